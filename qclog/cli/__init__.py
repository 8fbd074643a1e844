"""The front door on the command line: thin, it owns nothing."""
