"""The ground under the trees: paths, streams, fences, areas, places, and walks with their stops; all of it quiet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.courses import Course, course, direction_near, touches
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.canvas.place_signs import SIGN_PX, paint_crossing, paint_sign
from standmap.desktop.theme import HIGH_CONTRAST, Theme
from standmap.jobs.positions import xy as positions_of
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.walks import Stop, StopState, Walk
from standmap.survey.frame import WorkingFrame

WATER_PX = 4.5
PATH_PX, BETWEEN_PX = 4.0, 2.2
"""A path is a quiet line with ground in its middle."""

HATCH_PX = 8.0
FENCE_POST_PX = 14.0
PLACES_PX_PER_M = 0.12
"""From farther away places have no sign, for it would be as large as the wood."""

NAMED_PX = 90.0
"""An area at least so wide on the screen has its name written."""


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    name: str
    course: Course


@dataclass(frozen=True, slots=True, eq=False)
class _Field:
    name: str
    kind: AreaKind
    rings: tuple[Course, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    name: str
    kind: PlaceKind
    x: float
    y: float
    across_deg: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The ground of a stand in metres; made once, drawn for any camera."""

    paths: tuple[_Drawn, ...] = ()
    streams: tuple[_Drawn, ...] = ()
    fences: tuple[_Drawn, ...] = ()
    areas: tuple[_Field, ...] = ()
    places: tuple[_Spot, ...] = ()

    @classmethod
    def of(
        cls, places: Sequence[Place], lines: Sequence[Line], areas: Sequence[Area], frame: WorkingFrame | None
    ) -> Ground:
        """Bring rows of a stand into its working frame; what the frame does not reach is left out."""
        if frame is None:
            return cls()

        def drawn(kind: LineKind) -> tuple[_Drawn, ...]:
            made = (
                (each.name, course(each.course, lambda p: positions_of(frame, p)))
                for each in lines
                if each.kind is kind
            )
            return tuple(_Drawn(name, found) for name, found in made if found is not None)

        streams = drawn(LineKind.STREAM)
        fields = []
        for area in areas:
            rings = [course(ring, lambda p: positions_of(frame, p)) for ring in area.outline]
            fields.append(_Field(area.name, area.kind, tuple(r for r in rings if r is not None)))
        at = positions_of(frame, [p.at for p in places])
        spots = [
            _Spot(p.name, p.kind, x, y, direction_near([s.course for s in streams], x, y))
            for p, (x, y) in zip(places, at.tolist(), strict=True)
            if np.isfinite(x)
        ]
        return cls(
            drawn(LineKind.PATH), streams, drawn(LineKind.FENCE), tuple(f for f in fields if f.rings), tuple(spots)
        )

    def xy(self) -> NDArray[np.float64]:
        """Return every point of the ground, metres, shape (n, 2)."""
        courses = [d.course.xy for d in (*self.paths, *self.streams, *self.fences)]
        rings = [r.xy for f in self.areas for r in f.rings]
        spots = np.array([(p.x, p.y) for p in self.places], float).reshape(-1, 2)
        return np.concatenate([*courses, *rings, spots])

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw areas, water, paths and fences: everything that lies below the trees."""
        box = camera.box_m(12.0)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for area in self.areas:
            if touches(area.rings[0].box, box):
                _paint_area(painter, area, camera, theme)
        water = _pen(theme.water, WATER_PX if theme is not HIGH_CONTRAST else 0.6 * WATER_PX)
        _paint_lines(painter, self.streams, camera, box, [water])
        edge, between = _pen(theme.path, PATH_PX), _pen(theme.ground, BETWEEN_PX)
        _paint_lines(painter, self.paths, camera, box, [edge, between])
        self._paint_fences(painter, camera, theme, box)
        painter.restore()

    def _paint_fences(
        self, painter: QPainter, camera: Camera, theme: Theme, box: tuple[float, float, float, float]
    ) -> None:
        wire, posts = _pen(theme.second_ink, 1.0), _pen(theme.second_ink, 4.0)
        posts.setCapStyle(Qt.PenCapStyle.FlatCap)
        posts.setDashPattern([1.2 / 4.0, (FENCE_POST_PX - 1.2) / 4.0])
        _paint_lines(painter, self.fences, camera, box, [wire, posts])

    def paint_places(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw the signs of places."""
        painter.save()
        for spot, x, y in self._spots_in_sight(camera):
            if spot.kind in (PlaceKind.BRIDGE, PlaceKind.FORD) and spot.across_deg is not None:
                ford = spot.kind is PlaceKind.FORD
                paint_crossing(painter, QPointF(x, y), spot.across_deg - camera.turn_deg, theme, ford=ford)
            else:
                paint_sign(painter, QPointF(x, y), spot.kind, theme)
        painter.restore()

    def labels(self, camera: Camera) -> list[Label]:
        """Return the names of places, and of areas that are wide enough for one."""
        found = [Label(s.name, x, y, SIGN_PX / 2, Rank.PLACE) for s, x, y in self._spots_in_sight(camera) if s.name]
        box = camera.box_m()
        for area in self.areas:
            ring = area.rings[0]
            if area.name and touches(ring.box, box) and (ring.box[2] - ring.box[0]) * camera.px_per_m >= NAMED_PX:
                x, y = camera.point_to_screen((ring.box[0] + ring.box[2]) / 2, (ring.box[1] + ring.box[3]) / 2)
                found.append(Label(area.name, x, y, 0.0, Rank.GROUND))
        return found

    def place_boxes(self, camera: Camera) -> list[QRectF]:
        """Return what the signs of places cover in the view, logical pixels."""
        half = SIGN_PX / 2
        return [QRectF(x - half, y - half, SIGN_PX, SIGN_PX) for _, x, y in self._spots_in_sight(camera)]

    def _spots_in_sight(self, camera: Camera) -> list[tuple[_Spot, float, float]]:
        if not self.places or camera.px_per_m < PLACES_PX_PER_M:
            return []
        at = camera.to_screen(np.array([(s.x, s.y) for s in self.places])).tolist()
        return [
            (spot, x, y)
            for spot, (x, y) in zip(self.places, at, strict=True)
            if -SIGN_PX < x < camera.width + SIGN_PX and -SIGN_PX < y < camera.height + SIGN_PX
        ]


@dataclass(frozen=True, slots=True, eq=False)
class Walked:
    """Walks and what they propose: thin dotted lines, and small crosses where the walker stood."""

    walks: tuple[Course, ...] = ()
    stops: NDArray[np.float64] | None = None

    @classmethod
    def of(cls, walks: Sequence[Walk], stops: Sequence[Stop], frame: WorkingFrame | None) -> Walked:
        """Bring walks and the stops that nobody has judged yet into the working frame."""
        if frame is None:
            return cls()
        pieces = []
        for walk in walks:
            fixes = walk.fixes
            at = positions_of(frame, np.column_stack((fixes.lon, fixes.lat)))  # type: ignore[arg-type]
            for piece in np.split(at, np.flatnonzero(np.diff(fixes.segment)) + 1):
                reached = piece[np.isfinite(piece).all(axis=1)]
                if len(reached) >= 2:
                    pieces.append(Course(reached))
        proposed = [s.at for s in stops if s.state is StopState.PROPOSED]
        return cls(tuple(pieces), positions_of(frame, proposed))

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw what is in sight."""
        box = camera.box_m(12.0)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        dots = _pen(theme.second_ink, 1.4)
        dots.setDashPattern([0.01, 3.0])
        _paint_lines(painter, [_Drawn("", each) for each in self.walks], camera, box, [dots])
        if self.stops is not None and len(self.stops):
            at = camera.to_screen(self.stops)
            seen = ((at > -8) & (at < (camera.width + 8, camera.height + 8))).all(axis=1)
            for colour, width in ((theme.ground, 4.2), (theme.accent, 1.6)):
                painter.setPen(_pen(colour, width))
                for x, y in at[seen].tolist():
                    painter.drawLine(QPointF(x - 4, y), QPointF(x + 4, y))
                    painter.drawLine(QPointF(x, y - 4), QPointF(x, y + 4))
        painter.restore()


def _pen(colour: str, width: float) -> QPen:
    return QPen(QColor(colour), width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)


def _polygon(px: NDArray[np.float64]) -> QPolygonF:
    return QPolygonF([QPointF(x, y) for x, y in px.tolist()])


def _paint_lines(
    painter: QPainter,
    lines: Sequence[_Drawn],
    camera: Camera,
    box: tuple[float, float, float, float],
    pens: Sequence[QPen],
) -> None:
    """Draw all lines with one pen before the next, so that they join where they meet."""
    seen = [_polygon(each.course.on_screen(camera)) for each in lines if touches(each.course.box, box)]
    for pen in pens:
        painter.setPen(pen)
        for line in seen:
            painter.drawPolyline(line)


def _paint_area(painter: QPainter, area: _Field, camera: Camera, theme: Theme) -> None:
    outline = QPainterPath()
    outline.setFillRule(Qt.FillRule.OddEvenFill)
    for ring in area.rings:
        outline.addPolygon(_polygon(ring.on_screen(camera)))
        outline.closeSubpath()
    if area.kind is AreaKind.NO_GO:
        _paint_hatch(painter, outline, camera, theme)
        painter.setPen(_pen(theme.hatch, 1.2))
    else:
        pen = _pen(theme.second_ink, 1.0)
        if theme is HIGH_CONTRAST:
            pen.setDashPattern([8.0, 4.0])
        else:
            pen.setColor(QColor(theme.path))
            pen.setWidthF(1.2)
        painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPath(outline)


def _paint_hatch(painter: QPainter, outline: QPainterPath, camera: Camera, theme: Theme) -> None:
    """Hatch an outline with slanted lines that stay with the ground when the map is pushed."""
    view = QRectF(0, 0, camera.width, camera.height)
    box = outline.boundingRect() & view
    if box.isEmpty():
        return
    x, y = camera.point_to_screen(0.0, 0.0)
    painter.save()
    painter.setClipRect(view, Qt.ClipOperation.IntersectClip)
    painter.setClipPath(outline, Qt.ClipOperation.IntersectClip)
    painter.setPen(QPen(QColor(theme.hatch), 1.0))
    # A line of this slant is known by the sum of its coordinates; that of the ground's origin keeps them in place.
    first = (box.left() + box.top() - x - y) // HATCH_PX * HATCH_PX + x + y
    total = first
    while total <= box.right() + box.bottom():
        painter.drawLine(QPointF(total - box.bottom(), box.bottom()), QPointF(total - box.top(), box.top()))
        total += HATCH_PX
    painter.restore()
