"""Bytes onto this machine: local files and HTTP. The only network code of the project."""
