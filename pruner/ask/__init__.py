"""Questions about settings and results: coverage, why, what if, compare, forecast, explore."""
