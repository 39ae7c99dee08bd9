"""How much longer a way takes with a load.

The energy that walking costs is that of K. B. Pandolf, B. Givoni and R. F. Goldman, "Predicting energy expenditure
with loads while standing or walking very slowly", Journal of Applied Physiology 43(4), 1977: watts
1.5 W + 2 (W + L) (L / W)^2 + n (W + L) (1.5 V^2 + 0.35 V G), for a body of W kg, a load of L kg, V m/s, a grade of G
per cent and a terrain factor n (its form read through another's comments). It was made for packs on the back, and
tested with loads up to 27 kg at 1.34 m/s (Santee and others, 2003); cans in the hands are harder to carry. Here
somebody is taken to walk with a load as fast as costs no more than walking without one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

BODY_KG = 70.0
"""Weight of whoever walks: an assumption."""

TERRAIN = 1.2
"""Terrain factor of light brush (R. G. Soule and R. F. Goldman, 1972, from memory)."""

TESTED_M_PER_S = 1.34
"""The speed at which the formula was tested; how much slower a load makes is taken from there."""

SLOWEST = 3.0
"""Nobody is taken to be slower than this many times, whatever the formula says of loads it was never tried with."""


def watts(body_kg: float, load_kg: float, speed_m_per_s: float, grade_percent: float, terrain: float) -> float:
    """Return the energy that walking costs each second."""
    standing = 1.5 * body_kg + 2 * (body_kg + load_kg) * (load_kg / body_kg) ** 2
    moving = 1.5 * speed_m_per_s**2 + 0.35 * speed_m_per_s * grade_percent
    return standing + terrain * (body_kg + load_kg) * moving


@dataclass(frozen=True, slots=True)
class Carrying:
    """Who carries, and over what.

    Raises
    ------
    ValueError
        If a number is not finite and above 0.
    """

    body_kg: float = BODY_KG
    terrain: float = TERRAIN

    def __post_init__(self) -> None:
        if not (math.isfinite(self.body_kg) and self.body_kg > 0 and math.isfinite(self.terrain) and self.terrain > 0):
            raise ValueError("body_kg and terrain must be finite and above 0")

    def slowdown(self, load_kg: float) -> float:
        """Return how many times as long a way takes with this load; at least 1, and never less for more."""
        free = watts(self.body_kg, 0.0, TESTED_M_PER_S, 0.0, self.terrain)
        left = free - watts(self.body_kg, load_kg, 0.0, 0.0, self.terrain)
        if left <= 0:
            return SLOWEST
        speed = math.sqrt(left / (1.5 * self.terrain * (self.body_kg + load_kg)))
        return min(SLOWEST, max(1.0, TESTED_M_PER_S / speed))
