"""The pictures of an item's page as files of their own, to put into a letter or on a wall."""

from pathlib import Path

from qclog.questions.dossier import Dossier
from reports.files import write
from reports.numbers import METRIC, NumberStyle
from reports.pages.drawer import file_stem
from reports.pages.sections import sections


def write_pictures(folder: Path, dossier: Dossier, style: NumberStyle = METRIC) -> int:
    """Write every picture as SVG and as PNG, named by item, what it shows and its place on the page: how many."""
    pictures = [shown.picture for section in sections(dossier, style) for shown in section.pictures]
    for picture in pictures:
        path = folder / f"{file_stem(dossier.assessed.item)}-{picture.name.replace(' ', '-')}"
        write(path.with_name(f"{path.name}.svg"), picture.standing_alone())
        write(path.with_name(f"{path.name}.png"), picture.png())
    return len(pictures)
