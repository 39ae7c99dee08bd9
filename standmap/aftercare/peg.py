"""The peg that plugs a hole: its size by the bit and the depth of the hole. Common practice, no source."""

from __future__ import annotations

import math
from dataclasses import dataclass

THINNER_MM, THICKER_MM = 1.0, 2.0
"""A peg goes in thinner than its hole, and sticks where it is thicker: common practice, no source."""

STANDS_OUT_MM = 15.0
"""So much stands out to be struck, and is trimmed once the wood has swollen round it: common practice, no source."""

PEG_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Peg:
    """A round tapered peg.

    Attributes
    ----------
    noted
        Whether width and depth of the hole were noted; else they are what the rule set lets people drill.
    """

    thick_mm: float
    thin_mm: float
    long_mm: float
    bit_mm: float
    noted: bool

    @property
    def one_in(self) -> float:
        """The taper: it grows a millimetre thicker on so many of its length."""
        return self.long_mm / (self.thick_mm - self.thin_mm)

    @property
    def told(self) -> str:
        """Return it in one line."""
        size = f"peg of {self.thick_mm:g} mm tapering to {self.thin_mm:g} mm, {self.long_mm:g} mm long"
        size = f"{size} (1 in {self.one_in:.0f})"
        if self.noted:
            return f"{size}, for a hole of {self.bit_mm:g} mm"
        return f"{size}, if the hole is {self.bit_mm:g} mm wide: not all of its size was noted, so measure it"


def peg_for(bit_mm: float, depth_mm: float, *, noted: bool = True) -> Peg:
    """Return the peg for a hole.

    Raises
    ------
    ValueError
        If a measure is not finite and above 0.
    """
    if not all(math.isfinite(v) and v > 0 for v in (bit_mm, depth_mm)):
        raise ValueError("bit and depth must be finite and above 0")
    return Peg(bit_mm + THICKER_MM, max(bit_mm - THINNER_MM, 1.0), depth_mm + STANDS_OUT_MM, bit_mm, noted)
