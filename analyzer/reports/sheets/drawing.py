"""How every chart of a sheet is drawn: black and grey, told apart by dash and marker, as SVG."""

from __future__ import annotations

import io
import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, Any

from analyzer.series import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: Width of a chart across the sheet, and of one of two side by side [inch].
WIDE, HALF = 7.1, 3.45
#: A span shorter than this has seconds on its axis [s].
CLOSE_S = 300.0
LIMIT: dict[str, Any] = {"color": "0.35", "linewidth": 0.8, "linestyle": (0, (1, 2))}
#: From a limit's line to its label.
LEADER = {
    "arrowstyle": "-",
    "linewidth": 0.4,
    "color": "0.35",
    "shrinkA": 0.0,
    "shrinkB": 0.0,
    "relpos": (0.0, 0.5),
}
_LOOK = {
    "font.size": 7.5,
    "axes.linewidth": 0.6,
    "axes.grid": True,
    "grid.color": "0.85",
    "grid.linewidth": 0.4,
    "axes.axisbelow": True,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "legend.fontsize": 7,
    "legend.frameon": False,
    "legend.handlelength": 3.2,
    "svg.fonttype": "path",
    "svg.hashsalt": "taper",  # the same chart is the same file, byte for byte
    "path.simplify": True,
    "path.simplify_threshold": 0.15,
}


@contextmanager
def look() -> Iterator[None]:
    """Matplotlib with the sheets' look, and quiet about its own caches."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", category=UserWarning)
        import matplotlib as mpl

        with mpl.rc_context(_LOOK):  # type: ignore[arg-type]
            yield


def panels(heights: list[float], width: float = WIDE) -> tuple[Figure, list[Axes]]:
    """A figure with panels of these heights [inch] above each other on one horizontal axis."""
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    engine = ConstrainedLayoutEngine(h_pad=0.02, w_pad=0.02, hspace=0.02)
    figure = Figure(figsize=(width, sum(heights) + 0.35), layout=engine)
    axes = figure.subplots(len(heights), 1, sharex=True, squeeze=False, height_ratios=heights)[:, 0]
    for panel in axes:
        panel.spines[["top", "right"]].set_visible(False)
    return figure, list(axes)


def as_svg(figure: Figure) -> str:
    """The figure as SVG text, without the moment at which it was drawn."""
    to = io.StringIO()
    figure.savefig(to, format="svg", metadata={"Date": None, "Creator": None})
    return to.getvalue()


def places(seconds: Floats, start: datetime | None) -> Any:
    """Where moments of a log stand on the axis: clock times, or minutes into a log without a clock."""
    import numpy as np

    if start is None:
        return np.asarray(seconds) / 60.0
    return np.datetime64(start.replace(tzinfo=None), "ms") + (1000.0 * np.asarray(seconds)).astype("timedelta64[ms]")


def label_times(axes: Axes, start: datetime | None, span_s: float, most: int = 9) -> None:
    """Ticks, at most ``most`` of them, and title of the axis of time."""
    if start is None:
        axes.set_xlabel("minutes into the log")
        return
    from matplotlib.dates import AutoDateLocator, DateFormatter

    close = span_s < CLOSE_S
    axes.xaxis.set_major_locator(AutoDateLocator(minticks=2, maxticks=most))
    axes.xaxis.set_major_formatter(DateFormatter("%H:%M:%S" if close else "%H:%M"))
    axes.set_xlabel("clock of the log, h:min" + (":s" if close else ""))


def limit_lines(axes: Axes, limits: Sequence[tuple[float, str]]) -> None:
    """Horizontal lines, each labelled to the right of the panel; labels of near neighbours are moved apart.

    Call it once the panel's range is final.
    """
    low, high = axes.get_ylim()
    shown = sorted((value, words) for value, words in limits if low <= value <= high)
    height_pt = 72.0 * axes.get_figure().get_figheight() * axes.get_position().height  # type: ignore[union-attr]
    width_pt = 72.0 * axes.get_figure().get_figwidth() * axes.get_position().width  # type: ignore[union-attr]
    least = 7.5 / height_pt * (high - low)
    at = [value for value, _ in shown]
    for place in range(1, len(at)):
        at[place] = max(at[place], at[place - 1] + least)
    over = max(0.0, at[-1] - high) if at else 0.0
    for (value, words), height in zip(shown, at, strict=True):
        axes.axhline(value, **LIMIT)
        axes.annotate(
            words,
            (1.0, value),
            xycoords=("axes fraction", "data"),
            xytext=(1.0 + 5.0 / width_pt, height - over),
            textcoords=("axes fraction", "data"),
            va="center",
            fontsize=6.5,
            arrowprops=LEADER,
        )
