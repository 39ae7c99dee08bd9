"""The tiny bar of a season: which stretch of it each verdict takes. No Qt here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import accumulate, pairwise

from standmap.rules.judgement import Verdict

ORDER: tuple[Verdict, ...] = (
    Verdict.GIVING,
    Verdict.READY,
    Verdict.RESTING,
    Verdict.GROWING_ON,
    Verdict.OFF_LIMITS,
    Verdict.UNFIT,
    Verdict.UNSURE,
)
"""From left to right in every bar, so that a stretch is known by its place as well as by its fill."""

LEAST_PX = 2
"""A verdict that any tree has is never too thin to be seen."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a bar, whole pixels from its left end."""

    verdict: Verdict
    start_px: int
    width_px: int


def stretches(counts: Mapping[str, int], width_px: int) -> tuple[Stretch, ...]:
    """Return the stretches of a bar of so many pixels; they fill it without gaps.

    Parameters
    ----------
    counts
        Trees by verdict.
    """
    present = [v for v in ORDER if counts.get(v, 0) > 0]
    if not present or width_px < LEAST_PX * len(present):
        return ()
    total = sum(counts[v] for v in present)
    to_share = width_px - LEAST_PX * len(present)
    ends = [
        round(to_share * trees / total) + LEAST_PX * (place + 1)
        for place, trees in enumerate(accumulate(counts[v] for v in present))
    ]
    return tuple(Stretch(v, a, b - a) for v, (a, b) in zip(present, pairwise([0, *ends]), strict=True))
