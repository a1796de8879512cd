"""Whether readings run on through a step of the clock: then the clock was set, and nothing was left out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from analyzer.series import percentile

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Rows looked at on either side of the step, and the fewest of a channel that will do.
AROUND, FEWEST = 30, 6
#: A step runs on when it is within this many times the larger steps (the upper tenth) around it.
WITHIN = 2.0
#: A channel tells a pause when its trend would have moved it by so many times its larger steps in that time.
TELLING = 5.0
#: Channels that must run on at least.
CHANNELS = 2
#: An engine or an aircraft that is under way turns, or moves, by more than this [rpm, kt]; so many speeds must tell.
UNDER_WAY, FEWEST_SPEEDS = 40.0, 2


class Continuity:
    """Readings of a log, asked whether they run on from one row to the next.

    ``electrical`` are volts and amperes, whose trends end by themselves and return no more; ``speeds`` those of
    engines and through the air, which are zero on a parked aircraft; ``others`` what else is recorded.
    """

    def __init__(
        self,
        electrical: Sequence[NDArray[np.float64]] = (),
        others: Sequence[NDArray[np.float64]] = (),
        speeds: Sequence[NDArray[np.float64]] = (),
    ) -> None:
        self._electrical = electrical
        self._speeds = speeds
        self._channels = (*electrical, *speeds, *others)

    def runs_on(self, row: int) -> bool:
        """Whether two channels or more, one of them moving, go from the row before to ``row`` as they always do.

        A recording that begins anew, mostly with the engine stopped, fits on so well only by rare chance.
        """
        found = [self._joins(channel, row) for channel in self._channels]
        judged = [one for one in found if one is not None]
        return len(judged) >= CHANNELS and all(joins for joins, _ in judged) and any(moves for _, moves in judged)

    def under_way(self, row: int) -> bool:
        """Whether they run on in one state of flight: two speeds or more, all far from zero on both sides.

        A recording that begins anew mostly does so on a parked aircraft; that another cruise was joined just so, and
        every channel with it, is a rare chance.
        """
        moving = [all(side.size and side.min() > UNDER_WAY for side in self._sides(one, row)) for one in self._speeds]
        return len(moving) >= FEWEST_SPEEDS and all(moving) and self.runs_on(row)

    def tells_no_pause(self, row: int, rows: float) -> bool:
        """Whether they run on although a trend would have carried one of them elsewhere in ``rows`` rows.

        Steady readings before and after a pause are alike, so they do not tell a pause from a clock put forward.
        """
        return self.runs_on(row) and any(self._trend_broken(channel, row, rows) for channel in self._electrical)

    def _sides(self, channel: NDArray[np.float64], row: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        before, after = channel[max(0, row - AROUND) : row], channel[row : row + AROUND]
        return before[np.isfinite(before)], after[np.isfinite(after)]

    def _joins(self, channel: NDArray[np.float64], row: int) -> tuple[bool, bool] | None:
        """Whether a channel runs on, and whether it moves at all; None with too few readings."""
        before, after = self._sides(channel, row)
        if min(len(before), len(after)) < FEWEST:
            return None
        steps = np.abs(np.concatenate((np.diff(before), np.diff(after))))
        moves = steps[steps > 0]
        least = float(moves.min()) if len(moves) else 0.0
        allowed = max(WITHIN * percentile(steps, 90), least)
        return abs(float(after[0] - before[-1])) <= allowed + 1e-9, bool(len(moves))

    def _trend_broken(self, channel: NDArray[np.float64], row: int, rows: float) -> bool:
        before, after = self._sides(channel, row)
        if min(len(before), len(after)) < FEWEST:
            return False
        noise = percentile(np.abs(np.concatenate((np.diff(before), np.diff(after)))), 90)
        trends = [_trend(side) for side in (before, after)]
        plain = min(abs(one) * len(side) for one, side in zip(trends, (before, after), strict=True)) > 2 * noise
        return plain and trends[0] * trends[1] > 0 and min(map(abs, trends)) * rows > TELLING * noise


def _trend(values: NDArray[np.float64]) -> float:
    """Change from row to row, from the means of the first and the last third."""
    third = len(values) // 3
    return float(values[-third:].mean() - values[:third].mean()) / (len(values) - third)
