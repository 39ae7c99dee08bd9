"""The nice length of a scale bar in the person's units."""

from __future__ import annotations

from dataclasses import dataclass

from standmap.survey.measuring import nice_length
from standmap.units_shown import M_PER, System, UnitsShown


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A bar of a round length.

    Attributes
    ----------
    metres
        Its length on the ground.
    text
        Its length in words: "50 m", "200 ft".
    """

    metres: float
    text: str


_NEAR = {System.METRIC: "m", System.IMPERIAL: "yd", System.US: "ft"}
_FAR = {System.METRIC: "km", System.IMPERIAL: "mi", System.US: "mi"}
FAR_FROM = {System.METRIC: 1000.0, System.IMPERIAL: 1000.0, System.US: 2500.0}
"""From this many of the smaller unit on, the larger one is told."""


def scale_bar(most_m: float, units: UnitsShown) -> ScaleBar:
    """Return the longest round bar that is not longer than so many metres on the ground."""
    unit = _NEAR[units.system]
    size = float(M_PER[unit])
    if most_m / size >= FAR_FROM[units.system]:
        unit = _FAR[units.system]
        size = float(M_PER[unit])
    length = nice_length(most_m / size)
    return ScaleBar(length * size, f"{length:g} {unit}".replace(".", units.decimal_mark))
