"""Pages for eyes that see less and for who does not see: a general checker finds nothing, and inks stand out enough.

The checker is axe-core, a general library of rules after WCAG 2; contrasts by the formula of WCAG 2.2, 1.4.3 (from
memory), which black on white has at 21.
"""

import re
from importlib.resources import files
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from playwright.sync_api import Page

import reports.pages

_TEXT = 4.5


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_a_general_checker_finds_nothing(tab: Page, pages: dict[str, Path], width: int, scheme: str) -> None:
    checker = Path(AXE_FILE_PATH).read_text(encoding="utf-8")
    tab.set_viewport_size({"width": width, "height": 900})
    tab.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    for item, path in pages.items():
        if item in ("P-1", "P-2", "P-500"):  # alike to P-6 but for their length
            continue
        tab.goto(path.as_uri())
        tab.evaluate(checker)
        found = tab.evaluate("axe.run().then(told => [told.passes.length, told.violations])")
        assert found[0] > 10, item
        assert [(one["id"], one["nodes"][0]["html"]) for one in found[1]] == [], item


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_inks_stand_out_from_every_ground(scheme: str) -> None:
    colours = _colours(scheme)
    assert set(colours) == {"ink", "soft", "faint", "mark", "paper", "sheet", "lit"}
    for ground in ("paper", "sheet", "lit"):
        for ink in ("ink", "soft"):
            assert _contrast(colours[ink], colours[ground]) >= _TEXT, (ink, ground)
    assert _contrast(colours["mark"], colours["paper"]) >= _TEXT


def test_contrast_is_that_of_the_standard() -> None:
    """WCAG 2.2: black on white 21, #767676 on white just above 4.5 (common practice)."""
    assert _contrast("000000", "ffffff") == pytest.approx(21.0)
    assert 4.5 < _contrast("767676", "ffffff") < 4.6


def _colours(scheme: str) -> dict[str, str]:
    css = files(reports.pages).joinpath("page.css").read_text(encoding="utf-8")
    light, dark = css.split("prefers-color-scheme: dark")[:2]
    return dict(re.findall(r"--(\w+): #([0-9a-f]{6});", light if scheme == "light" else dark.split("}")[0]))


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    shares = [int(colour[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return sum(weight * share for weight, share in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
