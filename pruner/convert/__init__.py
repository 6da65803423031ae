"""Other files from the same parts: an export or a list in another layout; learning a layout."""
