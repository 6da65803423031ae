"""Ids, call signs, text and duplicates: what a cell means, and which rows say the same."""
