"""Country of every contact and how it was found; distance from home."""
