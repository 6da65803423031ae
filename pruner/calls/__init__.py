"""Calls: distinct calls -> the store -> counts for each id and talkgroup -> calls to expect."""
