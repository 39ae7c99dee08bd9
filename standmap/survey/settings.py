"""What the finding of stops assumes: each figure with its label, its help and its bounds, and none hidden elsewhere."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any


def _assumed(default: float, label: str, unit: str, least: float, most: float, about: str) -> Any:
    return field(default=default, metadata={"label": label, "unit": unit, "least": least, "most": most, "help": about})


@dataclass(frozen=True, slots=True, kw_only=True)
class StopSettings:
    """Assumptions about a person who walks from tree to tree with a receiver.

    No figure has a published source: all are common practice or were tuned on simulated walks (noise of
    2-8 m a axis, correlated over 10-300 s). Each field's metadata holds label, unit, bounds and help.

    Raises
    ------
    ValueError
        If a value is outside its bounds.
    """

    least_stay_s: float = _assumed(
        20.0, "Shortest stay", "s", 5, 600, "Whoever stands for less than this has not stopped at a tree."
    )
    longest_silence_s: float = _assumed(
        60.0, "Longest silence", "s", 5, 3600, "A gap without fixes longer than this ends a stay."
    )
    walking_m_s: float = _assumed(
        1.2, "Walking speed", "m/s", 0.2, 3, "Spread of one axis of the speed while walking between trees."
    )
    most_walking_m_s: float = _assumed(
        1.6,
        "Fastest walk",
        "m/s",
        0.5,
        10,
        "A change faster than this is held to be the receiver's more than the walker's.",
    )
    excursion_s: float = _assumed(
        20.0,
        "Longest excursion",
        "s",
        0,
        120,
        "A leap away that is undone by a leap back within this is an echo; it is left out.",
    )
    correlation_s: float = _assumed(
        30.0,
        "Correlation time while looking for stays",
        "s",
        1,
        600,
        "How long errors of neighbouring fixes go together, as far as the walk itself does not show it.",
    )
    fused_correlation_s: float = _assumed(
        60.0,
        "Least correlation time of a fused position",
        "s",
        1,
        3600,
        "Errors go together for at least this long when a stay's accuracy is stated, so that many fixes count as few.",
    )
    untold_sigma_m: float = _assumed(
        4.0, "Untold accuracy", "m", 0.01, 100, "Standard deviation of one axis where the receiver does not tell it."
    )
    shared_drift_m: float = _assumed(
        1.5,
        "Shared drift",
        "m",
        0,
        50,
        "Standard deviation of an error that a whole walk shares; no stay is better than this.",
    )
    merge_within_m: float = _assumed(
        3.0,
        "Same stop within",
        "m",
        0,
        50,
        "Neighbouring stays nearer than this are one, even with a perfect receiver.",
    )
    merge_sigmas: float = _assumed(
        1.6,
        "Same stop within, by noise",
        "",
        0,
        5,
        "So many standard deviations of the noise are added to that distance.",
    )
    merge_gap_s: float = _assumed(
        30.0, "Same stop after", "s", 0, 600, "Stays are joined only when less than this lies between them."
    )
    step_s: float = _assumed(
        3.0, "Time step", "s", 0.5, 30, "Fixes are taken together in steps of this length; the median of each counts."
    )
    leave_cost: float = _assumed(
        7.0,
        "Proof for leaving",
        "",
        0,
        100,
        "Evidence, twice the log of a likelihood ratio, wanted before a stay ends and a walk begins.",
    )
    bend_cost: float = _assumed(
        10.0, "Proof for a bend", "", 0, 100, "Evidence wanted before a walk between trees takes another direction."
    )
    leap_cost: float = _assumed(
        15.0, "Proof for a leap", "", 0, 100, "Evidence wanted before a stay goes on elsewhere without a walk between."
    )

    def __post_init__(self) -> None:
        for one in fields(self):
            value, meta = getattr(self, one.name), one.metadata
            if not meta["least"] <= value <= meta["most"]:
                raise ValueError(f"{one.name} = {value} is not between {meta['least']} and {meta['most']}")
