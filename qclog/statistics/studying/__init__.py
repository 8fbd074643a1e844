"""Components of variance: whose the scatter is."""
