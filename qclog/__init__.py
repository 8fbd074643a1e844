"""Logbook and judge of workholding. Loads nothing heavy: heavy imports stand inside functions."""
