"""Labels never cover each other, nor what is taken."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from standmap.desktop.canvas.labels import CELL_PX, MOST_SHOWN, Label, Placed, Rank, Room, place

labels = st.lists(
    st.builds(
        Label,
        st.sampled_from(["B1", "a longer name", "", "W"]),
        st.floats(-50, 650),
        st.floats(-50, 450),
        st.floats(0, 20),
        st.sampled_from(Rank),
    ),
    max_size=60,
)


def measure(label: Label) -> tuple[float, float]:
    return 7.0 * len(label.text), 14.0


def box(placed: Placed) -> tuple[float, float, float, float]:
    width, height = measure(placed.label)
    return placed.left, placed.top, placed.left + width, placed.top + height


def overlap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@given(labels)
def test_no_two_labels_overlap_and_all_lie_in_the_view(wanted: list[Label]) -> None:
    placed = place(wanted, Room(600, 400), measure)
    boxes = [box(p) for p in placed]
    for i, one in enumerate(boxes):
        assert one[0] >= 0
        assert one[1] >= 0
        assert one[2] <= 600
        assert one[3] <= 400
        assert not any(overlap(one, other) for other in boxes[:i])
    assert all(p.label.text for p in placed)


@given(labels, st.lists(st.tuples(st.floats(-30, 630), st.floats(-30, 430), st.floats(1, 15)), max_size=20))
def test_no_label_lies_over_a_dial(wanted: list[Label], dials: list[tuple[float, float, float]]) -> None:
    room = Room(600, 400)
    table = np.array(dials, float).reshape(-1, 3)
    room.take_dials(table[:, :2], table[:, 2])
    for placed in place(wanted, room, measure):
        for x, y, radius in dials:
            r = 0.8 * radius
            assert not overlap(box(placed), (x - r, y - r, x + r, y + r))


@given(st.lists(st.tuples(st.floats(-60, 660), st.floats(-60, 460), st.floats(0, 15)), max_size=12))
def test_dials_take_what_as_many_rectangles_would(dials: list[tuple[float, float, float]]) -> None:
    together, apart = Room(600, 400), Room(600, 400)
    table = np.array(dials, float).reshape(-1, 3)
    together.take_dials(table[:, :2], table[:, 2])
    for x, y, radius in dials:
        r = 0.8 * radius
        apart.take(x - r, y - r, x + r, y + r)
    for left in range(0, 600 - CELL_PX, 20):
        for top in range(0, 400 - CELL_PX, 20):
            cell = (left + 0.5, top + 0.5, left + 1, top + 1)
            if apart.free(*cell) is False:
                assert not together.free(*cell)


def test_the_first_rank_gets_the_room_and_a_name_too_many_is_left_out() -> None:
    room = Room(100, 40)
    found = place([Label("tree B12345", 10, 20, 4, Rank.TREE), Label("card", 10, 20, 4, Rank.CHOSEN)], room, measure)
    assert found[0].label.text == "card"
    crowd = [Label("x", 20.0 * (i % 50), 20.0 * (i // 50), 2) for i in range(2000)]
    assert len(place(crowd, Room(1000, 1000), measure)) == MOST_SHOWN
