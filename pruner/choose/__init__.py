"""Limits -> which contacts are kept."""
