"""The tables a logbook began with. There is nothing before them to move from."""

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Nothing to do: these tables are made with the logbook."""
