"""What became of every row: ledger, rejected rows, tallies."""
