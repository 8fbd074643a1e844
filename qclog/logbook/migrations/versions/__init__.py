"""One file a revision. A step is never changed once a logbook may have taken it."""
