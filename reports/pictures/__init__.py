"""Pictures of answers, one file a picture. They draw what an answer holds and compute nothing of it."""
