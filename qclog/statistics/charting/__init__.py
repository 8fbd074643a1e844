"""Control charts, their constants and run lengths, and capability."""
