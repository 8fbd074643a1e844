"""Clampings and readings held against their limits: groups, gauges, limits in force, verdicts."""
