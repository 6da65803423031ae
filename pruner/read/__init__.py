"""A file of any dialect -> records in canonical columns, and the rows that could not be read."""
