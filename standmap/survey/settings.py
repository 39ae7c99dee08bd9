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
        80.0,
        "Correlation time",
        "s",
        1,
        600,
        "How long errors of neighbouring fixes go together, as far as the walk itself does not show it.",
    )
    correlation_spread: float = _assumed(
        4.0, "Doubt about the correlation time", "", 0.05, 5, "Standard deviation of the logarithm of that time."
    )
    fused_correlation_s: float = _assumed(
        60.0,
        "Correlation time of a position taken live",
        "s",
        1,
        3600,
        "Errors go together for this long while a position settles, so that many fixes count as few.",
    )
    untold_sigma_m: float = _assumed(
        4.0, "Untold accuracy", "m", 0.01, 100, "Standard deviation of one axis where the receiver does not tell it."
    )
    told_spread: float = _assumed(
        0.15,
        "Doubt about a told accuracy",
        "",
        0.05,
        5,
        "Standard deviation of the logarithm of the noise about what the receiver tells.",
    )
    untold_spread: float = _assumed(
        1.2, "Doubt about an untold accuracy", "", 0.05, 5, "The same where the receiver tells nothing."
    )
    walk_drift_m: float = _assumed(
        1.5,
        "Shift of a whole walk",
        "m",
        0,
        50,
        "Standard deviation of an axis of an error all stops of a walk share beside noise; standing on lessens it not.",
    )
    pace_m_s: float = _assumed(
        0.9, "Usual pace", "m/s", 0.2, 3, "Straight way between two stops, divided by the time it takes."
    )
    merge_within_m: float = _assumed(
        1.5,
        "Same stop within",
        "m",
        0,
        50,
        "Neighbouring stays nearer than this are one, even with a perfect receiver.",
    )
    step_s: float = _assumed(
        3.0, "Time step", "s", 0.5, 30, "Fixes are taken together in steps of this length; the median of each counts."
    )
    leave_cost: float = _assumed(
        6.0,
        "Proof for leaving",
        "",
        0,
        100,
        "Evidence, twice the log of a likelihood ratio, wanted before a stay ends and a walk begins.",
    )
    part_cost: float = _assumed(
        1.0,
        "Proof for two stops",
        "",
        0,
        100,
        "Evidence wanted before two neighbouring stays are two stops, when the whole way between them is looked at.",
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
