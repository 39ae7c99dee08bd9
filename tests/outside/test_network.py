"""The network of measurements against a general-purpose dense least-squares solver (scipy.optimize.least_squares)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

from standmap.stand.walks import FloatArray
from standmap.survey.network import adjust
from standmap.survey.one_sight import sigma_deg, sigma_m
from tests.survey.networks import Wood, grid, wood


def dense(wood: Wood, start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the unknowns and their covariance as the general solver finds them; equations written down anew."""
    n = len(wood.truth)

    def misfits(x: FloatArray) -> FloatArray:
        at, shift = x[: 2 * n].reshape(-1, 2), x[2 * n :]
        found: list[float] = []
        for fix in wood.seen:
            off = at[int(fix.point[1:])] + shift - np.array(fix.xy)
            found += [off[0] / math.sqrt(fix.own_m2[0]), off[1] / math.sqrt(fix.own_m2[1])]
        for s in wood.sights:
            way = at[int(s.to_key[1:])] - at[int(s.from_key[1:])]
            turn = math.degrees(math.atan2(way[0], way[1])) - (s.bearing_deg or 0.0)
            found.append(((turn + 180) % 360 - 180) / sigma_deg(s))
            found.append((math.hypot(*way) - (s.distance_m or 0.0)) / sigma_m(s))
        found += list(shift / math.sqrt(wood.shift_m2["w"]))
        return np.array(found)

    solved = least_squares(misfits, np.append(start.ravel(), [0.0, 0.0]), jac="3-point", xtol=1e-15, ftol=1e-15)
    slopes = np.asarray(solved.jac)
    return solved.x, np.linalg.inv(slopes.T @ slopes)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_it_equals_the_dense_solver(seed: int) -> None:
    """To 1e-6 m, where no reading disagrees so that all keep their weight (errors are a fifth of those assumed)."""
    rng = np.random.default_rng(seed)
    made = wood(rng, grid(4, 5, rng), gps_sigma_m=0.5, tape_part=0.002, compass_deg=0.4, shared_sigma_m=0.3)
    made = replace(made, seen=[replace(s, own_m2=(6.25, 6.25, 0.0)) for s in made.seen], shift_m2={"w": 2.25})
    found = adjust(made.begun, frozenset(), made.seen, made.sights, made.shift_m2)
    assert all(j.weight == 1.0 for j in found.judged)
    x, covariance = dense(made, np.array([s.xy for s in made.seen]))
    for i in range(len(made.truth)):
        point = found.points[f"p{i}"]
        assert point.xy == pytest.approx((x[2 * i], x[2 * i + 1]), abs=1e-6)
        block = covariance[2 * i : 2 * i + 2, 2 * i : 2 * i + 2]
        assert point.covariance == pytest.approx((block[0, 0], block[1, 1], block[0, 1]), rel=1e-4, abs=1e-9)
    assert found.shifts["w"] == pytest.approx(tuple(x[-2:]), abs=1e-6)
