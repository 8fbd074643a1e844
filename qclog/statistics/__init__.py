"""Pure functions: arrays in, one frozen result out. No text, no rounding, no input or output."""
