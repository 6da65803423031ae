"""The account of a run: ledger, rejected rows, summary, and how the files appear."""
