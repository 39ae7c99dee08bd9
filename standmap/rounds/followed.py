"""Which places of a planned walk were reached, when, and how far was walked, from where the walker was seen to be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

REACH_M = 12.0
"""A stay belongs to a place no farther off than this: an assumption, about twice a handheld receiver's error under
trees."""

PASS_M = 8.0
"""Who came no nearer to a place than this did not pass it: an assumption."""

STRIDE_M = 6.0
"""Shorter moves than this are scatter of the receiver and not counted as walking: an assumption."""


@dataclass(frozen=True, slots=True)
class Reached:
    """How a place was reached.

    Attributes
    ----------
    from_s, to_s
        The stay there; both the moment nearest by where the walker only passed.
    off_m
        From where the stay, or the nearest fix, was seen to be.
    stayed
        Whether the walker stood there.
    """

    from_s: float
    to_s: float
    off_m: float
    stayed: bool


def reached(
    places: FloatArray, stays: FloatArray, stay_times_s: FloatArray, fixes: FloatArray, fix_times_s: FloatArray
) -> tuple[Reached | None, ...]:
    """Return how each place was reached, None where it was not.

    Parameters
    ----------
    places
        Shape (n, 2), metres in a flat frame; those at one spot are reached together.
    stays, stay_times_s
        Shapes (k, 2): where the walker stood, and from when to when.
    fixes, fix_times_s
        Shapes (m, 2) and (m,), in ascending time.

    Notes
    -----
    As many places as possible get a stay of their own within `REACH_M`, and of all ways to do that the one with the
    least squared distance. A place left over was passed if a fix came within `PASS_M`.
    """
    spots, at = np.unique(places.reshape(-1, 2), axis=0, return_inverse=True)
    found: list[Reached | None] = []
    stay_of = _paired(spots, stays)
    for k, spot in enumerate(spots):
        stay = stay_of.get(k)
        if stay is not None:
            off = float(np.hypot(*(stays[stay] - spot)))
            found.append(Reached(float(stay_times_s[stay, 0]), float(stay_times_s[stay, 1]), off, stayed=True))
            continue
        away = np.hypot(*(fixes - spot).T) if len(fixes) else np.zeros(0)
        if len(away) and away.min() <= PASS_M:
            nearest = int(away.argmin())
            moment = float(fix_times_s[nearest])
            found.append(Reached(moment, moment, float(away[nearest]), stayed=False))
        else:
            found.append(None)
    return tuple(found[k] for k in at.reshape(-1))


def _paired(spots: FloatArray, stays: FloatArray) -> dict[int, int]:
    """Return the stay of each spot that has one."""
    from scipy.optimize import linear_sum_assignment

    if not len(spots) or not len(stays):
        return {}
    away = np.hypot(spots[:, None, 0] - stays[None, :, 0], spots[:, None, 1] - stays[None, :, 1])
    # One more pair is worth more than any saving of distance among the others.
    gain = np.where(away <= REACH_M, REACH_M**2 * (1 + min(away.shape)) - away**2, 0.0)
    rows, columns = linear_sum_assignment(gain, maximize=True)
    return {int(r): int(c) for r, c in zip(rows, columns, strict=True) if away[r, c] <= REACH_M}


def walked_m(fixes: FloatArray) -> float:
    """Return about how far was walked: the length of the line through fixes at least `STRIDE_M` apart.

    Parameters
    ----------
    fixes
        Shape (m, 2), metres in a flat frame, in ascending time.
    """
    total = 0.0
    if not len(fixes):
        return total
    last = fixes[0]
    for fix in fixes[1:]:
        step = float(np.hypot(*(fix - last)))
        if step >= STRIDE_M:
            total, last = total + step, fix
    return total
