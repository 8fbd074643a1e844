"""A statement of conformity: what it says, what speaks against it, its number, one handed in."""
