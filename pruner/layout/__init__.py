"""Contacts -> the file that a radio's programming software imports."""
