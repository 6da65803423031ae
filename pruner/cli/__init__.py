"""The command line: options -> settings -> one library call -> text."""
