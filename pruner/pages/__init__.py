"""Pages for people: they draw what they are handed and open nothing."""
