"""The trees of the map as columns, in the order in which they are drawn. No Qt here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from standmap.desktop.canvas.nearby import Nearby, spacing_m
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict

FloatArray = NDArray[np.float64]
LookArray = NDArray[np.uint16]

LEAST_RADIUS_PX, MOST_RADIUS_PX = 5.0, 12.0
"""Radii of a full dial, logical pixels."""

THIN_MM, THICK_MM = 400.0, 1600.0
"""Girths of the least and the largest dial."""

UNKNOWN_SIZE = 2 / 7
"""Of a tree that was never measured."""

RADIUS_STEPS = 8
"""Dials are drawn in so many sizes."""

REST_STEPS = 9
"""The ring of rest has so many states, from none to whole."""

_RESTING = CODES.index(Verdict.RESTING)
_PER_CODE = REST_STEPS
_PER_RADIUS = len(CODES) * _PER_CODE
_PER_LAYER = RADIUS_STEPS * _PER_RADIUS


@dataclass(frozen=True, slots=True)
class Look:
    """What tells one drawn dial from another, sizes and colours apart.

    Attributes
    ----------
    size
        0 for the least radius up to 1 for the most.
    rest
        Part of the rest already passed, 0 up to 1.
    """

    faded: bool
    chosen: bool
    size: float
    verdict: Verdict
    rest: float


def look_of(number: int) -> Look:
    """Return the look with a number of `Trees.looks`."""
    layer, within = divmod(int(number), _PER_LAYER)
    place, within = divmod(within, _PER_RADIUS)
    code, rest = divmod(within, _PER_CODE)
    return Look(
        faded=layer == 0,
        chosen=layer == 2,
        size=(RADIUS_STEPS - 1 - place) / (RADIUS_STEPS - 1),
        verdict=CODES[code],
        rest=rest / (REST_STEPS - 1),
    )


def full_radius_px(size: float) -> float:
    """Return the radius of a full dial: the least for size 0 up to the most for size 1, logical pixels."""
    return LEAST_RADIUS_PX + (MOST_RADIUS_PX - LEAST_RADIUS_PX) * size


def far_look(number: int) -> int:
    """Return the number of a look with what cannot be seen from far away taken out: size and rest."""
    layer, within = divmod(int(number), _PER_LAYER)
    return layer * _PER_LAYER + within % _PER_RADIUS // _PER_CODE * _PER_CODE


FAR_LOOKS: LookArray = np.array([far_look(i) for i in range(3 * _PER_LAYER)], np.uint16)
"""`far_look` of every number."""


@dataclass(frozen=True, eq=False)
class Trees:
    """The present trees of a stand as the map needs them; all columns have one row a tree.

    Attributes
    ----------
    xy
        Metres in the working frame, NaN where a tree is out of its reach, shape (n, 2).
    girth_mm
        NaN where not known.
    codes
        Verdicts as indexes into `CODES`.
    rest
        Part of the rest already passed, NaN for a tree that does not rest.
    faded
        Trees that the page is not about; None for none.
    marked
        Trees among so many chosen that the dials themselves tell it; None for none.
    """

    keys: Sequence[str]
    names: Sequence[str]
    xy: FloatArray
    girth_mm: FloatArray
    codes: NDArray[np.uint8]
    rest: FloatArray
    faded: NDArray[np.bool_] | None = None
    marked: NDArray[np.bool_] | None = None

    def __len__(self) -> int:
        """Return the number of trees."""
        return len(self.keys)

    def recoloured(self, codes: NDArray[np.uint8], rest: FloatArray) -> Trees:
        """Return the same trees with other verdicts."""
        return self._but(codes=codes, rest=rest)

    def with_faded(self, faded: NDArray[np.bool_] | None) -> Trees:
        """Return the same trees, others faded."""
        return self._but(faded=faded)

    def with_marked(self, marked: NDArray[np.bool_] | None) -> Trees:
        """Return the same trees, others marked as chosen."""
        return self._but(marked=marked)

    def where_they_stood(self, before: Trees) -> Trees:
        """Return these trees with what was made of the places before, if each stands where the one before it stood."""
        if np.array_equal(self.xy, before.xy, equal_nan=True):
            for name in ("nearby", "spacing_m"):
                if name in before.__dict__:
                    self.__dict__[name] = before.__dict__[name]
        return self

    def _but(self, **changed: object) -> Trees:
        made = replace(self, **changed)  # type: ignore[arg-type]
        # Where the trees stand has not changed: what was made of it is kept.
        for name in ("nearby", "spacing_m", "sizes"):
            if name in self.__dict__:
                made.__dict__[name] = self.__dict__[name]
        return made

    @cached_property
    def nearby(self) -> Nearby:
        """The trees by where they stand."""
        return Nearby(self.xy)

    @cached_property
    def spacing_m(self) -> float:
        """About how far apart they stand, metres."""
        return spacing_m(self.xy)

    @cached_property
    def sizes(self) -> FloatArray:
        """How large each dial is: 0 for the least radius up to 1 for the most, evenly by girth. Shape (n,)."""
        part = np.clip((self.girth_mm - THIN_MM) / (THICK_MM - THIN_MM), 0.0, 1.0)
        return np.where(np.isfinite(self.girth_mm), part, UNKNOWN_SIZE)

    @cached_property
    def looks(self) -> LookArray:
        """The number of each tree's look; drawn in rising order, so that the small stand on the large ones."""
        place = np.rint((1 - self.sizes) * (RADIUS_STEPS - 1)).astype(np.uint16)
        rest = np.zeros(len(self), np.uint16)
        resting = (self.codes == _RESTING) & np.isfinite(self.rest)
        rest[resting] = np.rint(np.clip(self.rest[resting], 0, 1) * (REST_STEPS - 1))
        layer = np.ones(len(self), np.uint16)
        if self.faded is not None:
            layer[self.faded] = 0
        if self.marked is not None:
            layer[self.marked] = 2
        return (layer * _PER_LAYER + place * _PER_RADIUS + self.codes.astype(np.uint16) * _PER_CODE + rest).astype(
            np.uint16
        )
