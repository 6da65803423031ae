"""Any table: what its columns mean, from their headings and their cells."""
