"""Readings as a pandas frame, for a notebook."""

import pandas as pd

from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.logbook.readings import select_readings
from qclog.logbook.recalls import all_in_doubt


def readings(store: Store, code: str | None = None) -> pd.DataFrame:
    """One row a reading that is not struck out, in the order of time; ``in_doubt``: its gauge was found wrong.

    ``low_um``, ``high_um``: the ends of what is known only between two; a bore told by pins has no ``value_um``.

    Raises NotFoundError for an unknown item.
    """
    with store.reading() as connection:
        item_id = None if code is None else Register(connection).need(code, "item").id
        frame = pd.read_sql_query(select_readings(item_id), connection)
        return frame.assign(in_doubt=frame["clamping"].isin(all_in_doubt(connection)))
