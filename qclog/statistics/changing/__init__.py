"""Is it still what it was? Trends, steps, charts that run, and what to do about it."""
