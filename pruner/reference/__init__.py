"""Floor 1: what is true of the world. Tables and look-ups; nothing here knows of directories or radios."""
