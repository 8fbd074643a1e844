"""Makes the demonstration's pictures anew: python -m demo_readings.pictures [FOLDER].

Three questions about the invented workshop, a picture each, drawn as its items' pages draw them.
"""

import sys
import tempfile
from importlib.resources import as_file, files
from pathlib import Path

import demo_readings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.exchange import import_folder
from qclog.questions.dossier import dossiers
from reports.numbers import METRIC
from reports.pages.sections import compared_section, place_sections, worn_section
from reports.pictures.canvas import Picture

BORED, TWO_POSITIONS, WORN = "B-815", "B-945", "B-860"


def pictures(store: Store) -> dict[str, Picture]:
    """The pictures by the names of their files."""
    items = {dossier.assessed.item: dossier for dossier in dossiers(store, [BORED, TWO_POSITIONS, WORN])}
    compared, wear = compared_section(items[TWO_POSITIONS], METRIC), worn_section(items[WORN], METRIC)
    assert compared is not None
    assert wear is not None
    return {
        "bored.svg": place_sections(items[BORED], METRIC)[0].pictures[0].picture,
        "key-positions.svg": compared.pictures[0].picture,
        "worn.svg": wear.pictures[0].picture,
    }


def make(folder: Path) -> None:
    """Write the pictures into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="qclog-pictures-", ignore_cleanup_errors=True) as temporary:
        store = open_store(str(Path(temporary) / "workshop.sqlite"), create=True)
        try:
            with as_file(files(demo_readings)) as data:
                import_folder(store, data / "workshop")
            for name, picture in pictures(store).items():
                (folder / name).write_text(picture.standing_alone(), encoding="utf-8", newline="\n")
        finally:
            store.close()


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "pictures")
