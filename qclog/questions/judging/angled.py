"""What has to be said of groups whose figures stand on angles: how finely turns were read, which way round."""

from collections import defaultdict
from collections.abc import Mapping

import numpy as np
import sqlalchemy as sa

from qclog.logbook.figures import Series
from qclog.logbook.owned import OwnedSetup
from qclog.logbook.turn_readings import read_at_quarter_turns
from qclog.questions.codes import Caveat, SenseState
from qclog.questions.judging.directions import Directed


def angle_caveats(
    connection: sa.Connection,
    series: Mapping[int, Series],
    directed: Directed,
    setups: Mapping[int, OwnedSetup],
) -> dict[int, list[Caveat]]:
    """Caveats of some series, by their places in ``directed``."""
    found: dict[int, list[Caveat]] = defaultdict(list)
    from_vectors = [i for i in np.flatnonzero(directed.from_vectors).tolist() if i in series]
    if from_vectors:
        quarters = read_at_quarter_turns(connection, [series[i].id for i in from_vectors])
        for i in from_vectors:
            if series[i].id in quarters:
                found[i].append(Caveat.FOUR_READINGS)
    shown = [
        i
        for i in np.flatnonzero(np.isfinite(directed.mean.real)).tolist()
        if i in series and series[i].setup_id and series[i].revision == setups[series[i].setup_id].revision
    ]
    if shown:
        from qclog.questions.sense import turned_bodies  # logging a plain swing does not need it

        bodies = turned_bodies(connection, sorted({series[i].revision_id for i in shown}))
        for i in shown:
            if series[i].revision_id in bodies and bodies[series[i].revision_id][0].state is SenseState.OTHER_WAY:
                found[i].append(Caveat.SENSE_WRONG)
    return found
