"""One revolution: its swing, its once-per-turn part, its lobes, however its readings came."""
