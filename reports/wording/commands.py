"""What is to be typed, as a shell wants it."""


def typed(text: str) -> str:
    """A code or name, in quotes where a shell would part it."""
    return text if all(c.isalnum() or c in "-_.,/+" for c in text) else f'"{text}"'
