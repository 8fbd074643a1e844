"""What the next grips of a choice will read, against the run-out that the part may have."""

from matplotlib.ticker import MaxNLocator

from reports.pictures.canvas import INK, Picture, axes, figure, finished, hatched, styled

_LEFT, _BOTTOM, _WIDTH, _HEIGHT = 0.1, 0.38, 3.5, 0.3


@styled
def expected(half: float | None, most: float | None, runout_um: float, name: str) -> Picture | None:
    """``half``, ``most``: what half of the grips, and 19 in 20, stay under, µm; None where these are not known."""
    if half is None or most is None:
        return None
    drawn = figure(_BOTTOM + _HEIGHT + 0.08)
    ax = axes(drawn, _LEFT, _BOTTOM, _WIDTH, _HEIGHT)
    ax.spines["left"].set_visible(False)
    ax.set_xlim(0, 1.15 * max(runout_um, most))
    ax.set_ylim(0, 1)
    ax.set_yticks([])
    ax.xaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))
    ax.set_xlabel("TIR, µm", loc="left", labelpad=2)
    ax.plot([half] * 2, [0.1, 1.0], color=INK, linewidth=1.8)
    ax.plot([most] * 2, [0.1, 1.0], color=INK, linewidth=1.0, dashes=(2.5, 1.5))
    ax.axvline(runout_um, color=INK, linewidth=1.8)
    ax.axvspan(runout_um, ax.get_xlim()[1], **hatched())
    says = f"Half of the grips stay under {half:.1f} µm, 19 in 20 under {most:.1f} µm; the limit is {runout_um:g} µm."
    return finished(drawn, name, says)
