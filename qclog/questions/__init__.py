"""One file a question: asks the logbook, calls the statistics, returns one frozen answer."""
