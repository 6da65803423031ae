"""Heard logs: rows of calls -> one row for each id, talkgroup and day -> what is known of a station."""
