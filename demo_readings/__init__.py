"""An invented workshop's readings, shipped with the program."""
