"""Tells: numbers, wording, figures, pages. Computes nothing."""
