"""A statement of conformity as a PDF to hand over, with its figures and readings attached."""
