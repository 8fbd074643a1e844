"""Bodies turned against each other: whose the run-out is, how to clock them, what to clamp to learn it."""
