"""Safekeeping: digests of every entry, looking a logbook through, backups, and copies."""
