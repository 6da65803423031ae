"""One unattended run: lock, fetch, guard, fold, fit, publish, compare, tell; and its schedule."""
