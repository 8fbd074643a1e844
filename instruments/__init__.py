"""Where readings come from: bytes, frames, meaning. Knows nothing of qclog."""
