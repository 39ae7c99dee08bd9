"""How much a person carries on the ground of the day: the usual load, less in the dark, on wet and on steep ground.

Public handling figures hold for level floors and a few steps; they are a prompt to carry less, never a safe limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from standmap.jobs.round_options import CAPACITY_BOUNDS_KG, EASED, STEEP, RoundOptions
from standmap.rounds.heights import Heights


def eased_options(
    options: RoundOptions, heights: Heights | None, spots: NDArray[np.float64]
) -> tuple[RoundOptions, str]:
    """Return the options with the load that is carried on this footing, and what was lowered and why, in words.

    Parameters
    ----------
    spots
        Where one walks to, shape (n, 2), metres in the frame of the heights.

    Notes
    -----
    A load that a person has chosen stays as it is.
    """
    why = [word for word, holds in (("dark", options.dark), ("wet ground", options.wet)) if holds]
    if is_steep(heights, spots):
        why.append("steep ground")
    if options.capacity_as_given or not why:
        return options, ""
    lowered = max(round(options.capacity_kg * EASED ** len(why), 1), CAPACITY_BOUNDS_KG[0], options.can_kg + 1.0)
    told = (
        f"the usual load of {options.capacity_kg:g} kg is lowered to {lowered:g} kg: {_listed(why)}; this is no safe "
        "limit, carry less where the footing asks for it"
    )
    return replace(options, capacity_kg=lowered), told


def is_steep(heights: Heights | None, spots: NDArray[np.float64]) -> bool:
    """Return whether half of the spots, or more, lie on ground steeper than `STEEP`; False where it is not known."""
    if heights is None or not len(spots):
        return False
    step = heights.cell_m
    east, north = np.array([step, 0.0]), np.array([0.0, step])
    rise = np.hypot(
        heights.at(spots + east) - heights.at(spots - east), heights.at(spots + north) - heights.at(spots - north)
    )
    known = rise[np.isfinite(rise)]
    return bool(len(known)) and float(np.median(known)) / (2 * step) > STEEP


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
