"""The ground of a stand as rounds walk it."""

from __future__ import annotations

import pytest

from standmap.jobs.walked_ground import walked_ground
from standmap.rounds.ground import Course, Ground
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.survey.frame import WorkingFrame

FRAME = WorkingFrame(27.6, 61.9)
HERE, THERE, FAR = (27.6, 61.9), (27.601, 61.9), (-70.0, 10.0)


def test_everything_mapped_has_its_part() -> None:
    stand = Stand(
        places=tuple(Place(k, k, PlaceKind(k), HERE) for k in PlaceKind),
        lines=tuple(Line(k, f"the {k}", LineKind(k), (HERE, THERE)) for k in LineKind),
        areas=(
            Area("a", "mire", AreaKind.NO_GO, ((HERE, THERE, (27.6, 61.901), HERE),)),
            Area("b", "common", AreaKind.PERMITTED, ((HERE, THERE, (27.6, 61.901), HERE),)),
        ),
    )
    ground = walked_ground(stand, FRAME)
    assert [(c.name, c.ford) for c in ground.crossings] == [("bridge", False), ("ford", True)]
    assert [g.name for g in ground.gates] == ["gate"]
    assert [h.name for h in ground.hazards] == ["hazard"]
    assert [n.name for n in ground.no_go] == ["mire"]
    for courses, name in ((ground.streams, "the stream"), (ground.fences, "the fence"), (ground.paths, "the path")):
        (course,) = courses
        assert course.name == name
        assert course.points[1] == pytest.approx((52.5, 0.0), abs=0.5)


def test_what_lies_out_of_reach_or_is_no_line_is_left_out() -> None:
    stand = Stand(
        places=(Place("g", "gate", PlaceKind.GATE, FAR),),
        lines=(
            Line("s", "brook", LineKind.STREAM, (HERE, FAR, THERE)),
            Line("p", "ride", LineKind.PATH, (HERE, FAR)),
            Line("q", "spot", LineKind.PATH, (HERE, HERE)),
        ),
        areas=(Area("a", "far", AreaKind.NO_GO, ((FAR, FAR, FAR, FAR),)),),
    )
    ground = walked_ground(stand, FRAME)
    assert ground == Ground(streams=(Course(ground.streams[0].points, "brook"),))
    assert len(ground.streams[0].points) == 2
