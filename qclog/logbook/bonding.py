"""What can be read only until its item is bonded: a gap."""

from qclog.characteristics import known
from qclog.errors import RefusedError
from qclog.logbook.lookup import Name, Register
from qclog.logbook.owned import read_owned


def refuse_once_bonded(register: Register, item: Name, modification: int, characteristic: str) -> None:
    """Raises RefusedError for a gap said to be read after the item was bonded."""
    if not known(characteristic).once:
        return
    bonded = read_owned(register.connection, [item.id])[item.id].bonded
    if 0 < bonded <= modification:
        out = f'modify {item.text} "knocked out" --how' if bonded == modification else f"note {item.text}"
        raise RefusedError(
            f"{item.text} is bonded (modification {bonded}): its {characteristic} can no longer be read, and stays as "
            "it was read before.",
            f"If it was knocked out to be bonded anew, say so first: qclog {out} bonded=no",
        )
