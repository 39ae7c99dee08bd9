"""What old holes leave in a stem, and where the next one has most room."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.stem.column import buried, column_of, drilled_ml
from standmap.stem.room import Old, Room, widest_room

BAND = (300.0, 1000.0)
OLD = st.builds(
    Old,
    st.floats(0, 799),
    st.floats(200, 1200),
    st.sampled_from([0.0, 15.0]),
    st.sampled_from([0.0, 150.0, 280.0]),
)


def away(room: Room, old: Old, girth: float) -> float:
    around = room.side_deg / 360 * girth
    off = abs(around - old.around_mm) % girth
    return math.hypot(min(off, girth - off), room.height_mm - old.height_mm)


def test_the_volume_of_a_column_is_that_of_its_hole_times_the_ratio() -> None:
    column = column_of(10.0, 15.0)
    assert column.volume_ml == pytest.approx(220 * drilled_ml(10.0, 15.0))
    assert (column.depth_mm, column.width_mm) == (15.0, 30.0)
    assert column.length_mm == pytest.approx(math.pi / 4 * 100 * 220 / 30)
    with pytest.raises(ValueError, match="above 0"):
        column_of(0.0, 15.0)


def test_wood_as_thick_as_the_hole_is_deep_covers_it() -> None:
    assert buried(15.0, 15.0)
    assert not buried(15.0, 14.9)


def test_a_stem_without_holes_is_free_everywhere() -> None:
    assert widest_room(800.0, BAND, (), 200.0) == Room(300.0, 0.0, math.inf)


def test_the_place_across_the_stem_is_the_widest() -> None:
    room = widest_room(800.0, (500.0, 500.0), [Old(200.0, 500.0)], 200.0)  # an old hole on the east side
    assert room is not None
    assert (room.side_deg, room.clearance_mm) == (270.0, 400.0)


def test_no_good_place_left_is_an_answer() -> None:
    ring = [Old(around, height) for around in range(0, 800, 160) for height in range(200, 1200, 160)]
    assert widest_room(800.0, BAND, ring, 200.0) is None
    assert widest_room(800.0, BAND, ring, 100.0) is not None


def test_what_an_old_hole_left_is_kept_clear_of_however_far_the_hole_is() -> None:
    # Straight below the old hole is far enough by the spacing, and inside what it left.
    old = [Old(k * 10.0, 900.0, 15.0, 280.0) for k in range(80)]
    room = widest_room(800.0, (450.0, 700.0), old, 200.0, half_width_mm=15.0, half_length_mm=280.0)
    assert room is None
    bare = [Old(o.around_mm, o.height_mm) for o in old]
    free = widest_room(800.0, (450.0, 700.0), bare, 200.0)
    assert free is not None
    assert free.height_mm == 450.0


@given(old=st.lists(OLD, min_size=1, max_size=6), girth=st.floats(400, 1600), spacing=st.floats(0, 300))
def test_a_place_found_keeps_every_distance_and_none_of_the_grid_is_better(
    old: list[Old], girth: float, spacing: float
) -> None:
    room = widest_room(girth, BAND, old, spacing)
    every = [
        (min(away(Room(h, a / girth * 360, 0), o, girth) for o in old), a, h)
        for a in range(0, int(girth), 20)
        for h in range(int(BAND[0]), int(BAND[1]) + 1, 20)
        if not any(
            o.half_width_mm > 0
            and min(abs(a - o.around_mm) % girth, girth - abs(a - o.around_mm) % girth) < o.half_width_mm
            and abs(h - o.height_mm) < o.half_length_mm
            for o in old
        )
    ]
    best = max((clear for clear, _, _ in every), default=-1.0)
    if room is None:
        assert best < spacing + 15.0  # a finer grid may still fall short by less than its step
        return
    assert BAND[0] <= room.height_mm <= BAND[1]
    assert room.clearance_mm >= spacing
    assert room.clearance_mm == pytest.approx(min(away(room, o, girth) for o in old), abs=1e-3)
    assert room.clearance_mm >= best - 15.0


def test_a_stem_without_girth_is_refused() -> None:
    with pytest.raises(ValueError, match="girth above 0"):
        widest_room(0.0, BAND, (), 200.0)
