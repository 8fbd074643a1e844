"""Keeps: the tables, the engine, writing, reading, the exchange form."""
