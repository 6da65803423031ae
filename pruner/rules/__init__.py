"""Rules -> which rule owns each contact, and in what order the contacts stand."""
