"""Cleaning of ids, call signs and text."""
