"""The network: what it finds, what it names, and what does not change it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.progress import Unwatched
from standmap.stand.sights import North, Sight
from standmap.survey.hanging import Lack
from standmap.survey.network import Adjusted, adjust
from standmap.survey.readings import Equations, SeenAt, What
from tests.survey.networks import Wood, grid, misread, wood


def solved(made: Wood) -> Adjusted:
    return adjust(made.begun, frozenset(), made.seen, made.sights, made.shift_m2)


def made_wood(seed: int = 5, rows: int = 5, columns: int = 6) -> Wood:
    rng = np.random.default_rng(seed)
    return wood(rng, grid(rows, columns, rng))


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_slopes_are_those_of_finite_differences(seed: int) -> None:
    rng = np.random.default_rng(seed)
    made = wood(rng, grid(2, 3, rng), neighbours=2)
    sights = [*made.sights, Sight("o", "p0", "p3", "p5", along_m=4.0, offset_m=-2.5)]
    lopsided = [replace(s, own_m2=(4.0, 9.0, 2.5)) for s in made.seen]
    equations = Equations(made.begun, frozenset({"p1"}), lopsided, sights, made.shift_m2, 0.0)
    x = np.append(made.truth[[0, 2, 3, 4, 5]].ravel(), [0.3, -0.2])
    slopes = equations.slopes(x).toarray()
    for column in range(len(x)):
        step = np.zeros(len(x))
        step[column] = 1e-5
        about = (equations.misfits(x + step) - equations.misfits(x - step)) / 2e-5
        assert slopes[:, column] == pytest.approx(about, rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_tape_and_compass_make_neighbours_sure(seed: int) -> None:
    made = made_wood(seed)
    found = solved(made)
    at = np.array([found.points[f"p{i}"].xy for i in range(len(made.truth))])
    raw = np.array([s.xy for s in made.seen])
    pairs = np.array([(int(s.from_key[1:]), int(s.to_key[1:])) for s in made.sights])

    def apart(places: np.ndarray) -> float:
        off = (places - made.truth)[pairs[:, 0]] - (places - made.truth)[pairs[:, 1]]
        return float(np.median(np.hypot(off[:, 0], off[:, 1])))

    assert apart(at) < 0.5
    assert apart(at) < apart(raw) / 4
    assert found.misfit == pytest.approx(1.0, abs=0.3)


def test_stated_ellipses_hold_the_truth() -> None:
    inside = total = 0
    for seed in range(12):
        made = made_wood(100 + seed)
        found = solved(made)
        for i, true in enumerate(made.truth):
            point = found.points[f"p{i}"]
            assert point.covariance is not None
            e, n, en = point.covariance
            off = np.array(point.xy) - true
            inside += float(off @ np.linalg.inv([[e, en], [en, n]]) @ off) <= -2 * math.log(0.05)
            total += 1
    assert 0.88 <= inside / total <= 1.0


@given(st.floats(-300, 300), st.floats(-300, 300), st.floats(0, 360))
@settings(max_examples=15, deadline=None)
def test_moving_and_turning_everything_moves_and_turns_the_answer(east: float, north: float, turn_deg: float) -> None:
    made = made_wood(7, 3, 3)
    turn = math.radians(turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)

    def turned(xy: tuple[float, float]) -> tuple[float, float]:
        return xy[0] * cos + xy[1] * sin + east, -xy[0] * sin + xy[1] * cos + north

    seen = [replace(s, xy=turned(s.xy)) for s in made.seen]
    sights = [misread(s, turn_deg) for s in made.sights]
    one = solved(made)
    other = adjust({s.point: s.xy for s in seen}, frozenset(), seen, sights, made.shift_m2)
    for key, point in one.points.items():
        assert other.points[key].xy == pytest.approx(turned(point.xy), abs=1e-4)


@pytest.mark.parametrize("number", [0, 11, 40])
def test_a_misread_bearing_is_named_and_does_no_harm(number: int) -> None:
    made = made_wood()
    sound = solved(made)
    sights = [misread(s, 40) if i == number else s for i, s in enumerate(made.sights)]
    found = adjust(made.begun, frozenset(), made.seen, sights, made.shift_m2)
    worst = max((j for j in found.judged if j.sigmas is not None), key=lambda j: j.sigmas or 0.0)
    assert (worst.reading.id, worst.reading.what) == (f"s{number}", What.BEARING)
    assert worst.blunder
    assert worst.weight < 0.1
    assert worst.off == pytest.approx(-40, abs=8)
    moved = [math.dist(sound.points[key].xy, found.points[key].xy) for key in sound.points]
    assert max(moved) < 0.7


def test_a_wrong_position_is_named() -> None:
    made = made_wood()
    seen = [replace(s, xy=(s.xy[0] + 25.0, s.xy[1])) if s.point == "p8" else s for s in made.seen]
    found = adjust(made.begun, frozenset(), seen, made.sights, made.shift_m2)
    named = [j for j in found.judged if j.blunder]
    assert [j.reading.id for j in named] == ["g8"]
    assert named[0].off_xy is not None
    assert named[0].off_xy[0] == pytest.approx(-25.0, abs=8)


def test_points_that_hang_on_nothing_are_named_and_stay() -> None:
    made = made_wood()
    island = [
        Sight("i1", "q1", "q2", bearing_deg=10, north=North.TRUE, distance_m=4),
        Sight("i2", "q2", "q3", bearing_deg=90, north=North.TRUE, distance_m=4),
    ]
    begun = made.begun | {"q1": (500.0, 0.0), "q2": (501.0, 4.0), "q3": (505.0, 4.0)}
    found = adjust(begun, frozenset(), made.seen, [*made.sights, *island], made.shift_m2)
    assert [(h.lack, h.points) for h in found.hanging] == [(Lack.NOTHING, ("q1", "q2", "q3"))]
    assert found.points["q2"].xy == (501.0, 4.0)
    assert found.points["q2"].covariance is None
    assert found.points["p3"].xy == pytest.approx(solved(made).points["p3"].xy, abs=0.02)


def test_a_point_on_one_tape_can_turn_and_two_tapes_leave_its_side_open() -> None:
    seen = [SeenAt("a", "a", (0.0, 0.0), (1.0, 1.0, 0.0)), SeenAt("b", "b", (10.0, 0.0), (1.0, 1.0, 0.0))]
    begun = {"a": (0.0, 0.0), "b": (10.0, 0.0), "t": (3.0, 4.0), "u": (5.0, 5.0)}
    sights = [
        Sight("1", "a", "t", distance_m=5),
        Sight("2", "a", "u", distance_m=7),
        Sight("3", "b", "u", distance_m=7),
    ]
    found = adjust(begun, frozenset(), seen, sights, {})
    assert {(h.lack, h.points) for h in found.hanging} == {(Lack.TURN, ("t",)), (Lack.SIDE, ("u",))}
    assert found.points["t"].covariance is None
    assert found.points["u"].covariance is not None


def test_held_points_stay_and_the_walk_is_shifted_to_them() -> None:
    made = made_wood()
    begun = made.begun | {f"p{i}": (float(x), float(y)) for i, (x, y) in enumerate(made.truth[:3])}
    found = adjust(begun, frozenset({"p0", "p1", "p2"}), made.seen, made.sights, made.shift_m2)
    for i in range(3):
        assert found.points[f"p{i}"].xy == tuple(made.truth[i])
        assert found.points[f"p{i}"].covariance == (0.0, 0.0, 0.0)
    shift = np.mean([np.array(s.xy) - made.truth[i] for i, s in enumerate(made.seen)], axis=0)
    assert found.shifts["w"] == pytest.approx(tuple(shift), abs=0.5)


def test_an_offset_places_a_point_beside_its_base_line() -> None:
    held = frozenset({"a", "b"})
    begun = {"a": (0.0, 0.0), "b": (0.0, 20.0), "t": (1.0, 1.0)}
    found = adjust(begun, held, [], [Sight("1", "a", "t", "b", along_m=12.0, offset_m=3.0)], {})
    assert found.points["t"].xy == pytest.approx((3.0, 12.0), abs=1e-6)


@pytest.mark.parametrize("held", [frozenset[str](), frozenset({"p7"})])
def test_how_sure_neighbours_are_of_each_other_is_what_the_whole_inverse_says(held: frozenset[str]) -> None:
    made = made_wood(3, 3, 4)
    found = adjust(made.begun, held, made.seen, made.sights, made.shift_m2)
    equations = Equations(made.begun, held, made.seen, made.sights, made.shift_m2, 0.0)
    free = [found.points[key].xy for key in equations.keys if key not in held]
    x = np.append(np.array(free).ravel(), found.shifts["w"])
    weight = np.append([j.weight for j in found.judged], 1.0)[equations.reading_of]
    slopes = equations.slopes(x).toarray() * np.sqrt(weight)[:, None]
    inverse = np.linalg.inv(slopes.T @ slopes)
    at = np.array([found.points[key].xy for key in equations.keys])
    assert set(found.beside) == set(equations.keys)
    for row, key in enumerate(equations.keys):
        other, sigma = found.beside[key]
        apart = np.hypot(*(at - at[row]).T)
        apart[row] = np.inf
        assert other == equations.keys[int(np.argmin(apart))]
        way = np.zeros((2, len(x)))
        for sign, point in ((1.0, key), (-1.0, other)):
            column = int(equations.columns[equations.number[point]])
            if column >= 0:
                way[0, column], way[1, column + 1] = sign, sign
        assert sigma == pytest.approx(np.sqrt(np.trace(way @ inverse @ way.T) / 2), rel=1e-6)
        absolute = found.points[key].covariance
        assert absolute is not None
        assert held or sigma < np.sqrt((absolute[0] + absolute[1]) / 2)


def test_a_tree_that_one_fix_alone_places_is_checked_by_nothing() -> None:
    made = made_wood()
    lone = SeenAt("lone", "q", (500.0, 500.0), (4.0, 4.0, 0.0))
    found = adjust({**made.begun, "q": lone.xy}, frozenset(), [*made.seen, lone], made.sights, made.shift_m2)
    judged = {j.reading.id: j for j in found.judged if j.reading.what is What.POSITION}
    assert judged["lone"].sigmas is None
    assert judged["lone"].checked < 0.02
    assert all(j.checked > 0.5 for key, j in judged.items() if key != "lone")


def test_the_same_network_gives_the_same_answer_and_unused_sights_do_not_count() -> None:
    made = made_wood()
    one = solved(made)
    sights = [*made.sights, replace(misread(made.sights[0], 90), key="x", used=False)]
    other = adjust(made.begun, frozenset(), made.seen, sights, made.shift_m2)
    assert one == other


def test_nothing_measured_leaves_everything_as_it_is() -> None:
    found = adjust({"a": (1.0, 2.0)}, frozenset(), [], [], {})
    assert found.points["a"].xy == (1.0, 2.0)
    assert found.hanging[0].points == ("a",)


def test_it_can_be_stopped() -> None:
    class Impatient(Unwatched):
        def stop_wanted(self) -> bool:
            return True

    made = made_wood()
    with pytest.raises(UserError, match="stopped"):
        adjust(made.begun, frozenset(), made.seen, made.sights, made.shift_m2, progress=Impatient())
