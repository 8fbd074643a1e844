"""What a comparison is made of: who was measured alike, one pair, vectors, key positions of a chuck."""
