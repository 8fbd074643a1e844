"""Bounds on further clampings and readings, the factors behind them, and verdicts against a limit."""
