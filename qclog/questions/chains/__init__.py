"""What is told of a chain of bodies: its runs, its distances, its plan, how to clock it."""
