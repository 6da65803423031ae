"""The library: what `import pruner` offers, and what the command is written on. It prints nothing."""
