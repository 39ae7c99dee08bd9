"""The map on its sheet as it is drawn: title, map, legend, scale, north, date and whom the ground is from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from standmap.desktop.canvas.dials import paint_dial
from standmap.desktop.canvas.lettering import Lettering
from standmap.desktop.canvas.scene import Scene
from standmap.desktop.measuring.signs import draw_bar, draw_north
from standmap.desktop.pictures.sheet import FOOT_MM, HEAD_MM, MARGIN_MM, PX_PER_MM, Sheet
from standmap.desktop.theme import LIGHT
from standmap.desktop.words import said, tr
from standmap.rules.judgement import Verdict
from standmap.survey.scale_bar import scale_bar
from standmap.units_shown import UnitsShown

TITLE_MM, TEXT_MM, SMALL_MM = 5.4, 3.2, 2.7
"""Sizes of type on paper."""

BAR_MOST_MM = 50.0
NEEDLE_MM = 6.0
DIAL_MM = 1.9
REST_SHOWN = 0.5

THEME = LIGHT
"""Paper is white and light, whatever the window's look is."""


@dataclass(frozen=True, slots=True)
class SheetTexts:
    """What is written on a sheet.

    Attributes
    ----------
    day
        When the map was made.
    season
        For which season the dials are.
    counts
        Trees by verdict; those without any are left out of the legend.
    declination_deg, north
        Where a compass points, and that in words; None and empty where it is not known.
    attribution
        Whom the backdrop is from; empty for none.
    """

    title: str
    day: str
    season: int
    counts: Mapping[Verdict, int]
    declination_deg: float | None = None
    north: str = ""
    attribution: str = ""


def draw_sheet(
    painter: QPainter, sheet: Sheet, scene: Scene, texts: SheetTexts, units: UnitsShown, font: QFont
) -> None:
    """Draw a sheet.

    Parameters
    ----------
    painter
        In logical pixels of 1/96 inch, its origin at the corner of the paper.
    scene
        What is on the map; its theme is to be `THEME`.
    font
        The typeface; its sizes are set here.
    """
    painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
    paper = QRectF(0, 0, sheet.width_mm * PX_PER_MM, sheet.height_mm * PX_PER_MM)
    painter.fillRect(paper, QColor("#FFFFFF"))
    left, top, width, height = (v * PX_PER_MM for v in sheet.map_mm)
    painter.save()
    painter.translate(left, top)
    painter.setFont(_sized(font, TEXT_MM))
    scene.paint_whole(painter, sheet.camera, Lettering(font, scene.theme, scene.scale))
    painter.restore()
    painter.setPen(QPen(QColor(THEME.second_ink), 0.5))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(QRectF(left, top, width, height))
    _head(painter, sheet, texts, font)
    _foot(painter, sheet, texts, units, font)


def _sized(font: QFont, mm: float, *, strong: bool = False) -> QFont:
    made = QFont(font)
    made.setPixelSize(max(1, round(mm * PX_PER_MM)))
    made.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Normal)
    return made


def _head(painter: QPainter, sheet: Sheet, texts: SheetTexts, font: QFont) -> None:
    box = QRectF(MARGIN_MM, MARGIN_MM - 2, sheet.width_mm - 2 * MARGIN_MM, HEAD_MM)
    box = QRectF(*(v * PX_PER_MM for v in (box.x(), box.y(), box.width(), box.height())))
    right = tr("season {season} · drawn {day}", season=texts.season, day=texts.day)
    painter.setFont(_sized(font, TEXT_MM))
    painter.setPen(QColor(THEME.second_ink))
    painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, right)
    taken = painter.fontMetrics().horizontalAdvance(right) + 24
    title = _sized(font, TITLE_MM, strong=True)
    painter.setFont(title)
    painter.setPen(QColor(THEME.ink))
    shown = QFontMetricsF(title).elidedText(texts.title, Qt.TextElideMode.ElideRight, box.width() - taken)
    painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, shown)


def _foot(painter: QPainter, sheet: Sheet, texts: SheetTexts, units: UnitsShown, font: QFont) -> None:
    mm = PX_PER_MM
    left, right = MARGIN_MM * mm, (sheet.width_mm - MARGIN_MM) * mm
    top = (sheet.height_mm - MARGIN_MM - FOOT_MM) * mm
    text = _sized(font, TEXT_MM)
    painter.setFont(text)
    _legend(painter, QRectF(left, top + 1.5 * mm, right - left, 7 * mm), texts.counts)
    bar = scale_bar(BAR_MOST_MM / 1000 * sheet.scale, units)
    foot = top + 24 * mm
    draw_bar(painter, left, foot, bar.metres * 1000 / sheet.scale * mm, bar.text, QColor(THEME.ink))
    needle = QPointF(left + (BAR_MOST_MM + 16) * mm, top + 18.5 * mm)
    ink, second = QColor(THEME.ink), QColor(THEME.second_ink)
    draw_north(painter, needle, NEEDLE_MM * mm, sheet.camera.turn_deg, texts.declination_deg, ink, second, tr("N"))
    lines: Sequence[str] = [tr("scale 1:{scale}", scale=f"{sheet.scale:g}"), texts.north, texts.attribution]
    from_left = needle.x() + 1.8 * NEEDLE_MM * mm
    box = QRectF(from_left, top + 10.5 * mm, right - from_left, 15.5 * mm)
    down = box.top()
    for row, line in enumerate(lines):
        if not line:
            continue
        used = _sized(font, TEXT_MM if row == 0 else SMALL_MM, strong=row == 0)
        painter.setFont(used)
        painter.setPen(ink if row == 0 else second)
        room = QRectF(box.left(), down, box.width(), box.bottom() - down)
        flags = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap
        covered = painter.boundingRect(room, int(flags), line)
        painter.drawText(room, int(flags), line)
        down += covered.height() + 0.4 * mm


def _legend(painter: QPainter, box: QRectF, counts: Mapping[Verdict, int]) -> None:
    """Write the dials in one row, closer together where there is less room."""
    held = [(v, f"{said(str(v))} {n}") for v, n in counts.items() if n]
    if not held:
        return
    metrics = QFontMetricsF(painter.font())
    dial, gap = 2 * DIAL_MM * PX_PER_MM, 1.5 * PX_PER_MM
    used = sum(dial + gap + metrics.horizontalAdvance(words) for _, words in held)
    between = min(6 * PX_PER_MM, max(gap, (box.width() - used) / max(len(held) - 1, 1)))
    x, y = box.left(), box.center().y()
    for verdict, words in held:
        paint_dial(painter, QPointF(x + dial / 2, y), DIAL_MM * PX_PER_MM, verdict, THEME, REST_SHOWN, halo=False)
        painter.setPen(QColor(THEME.ink))
        painter.drawText(QPointF(x + dial + gap, y + metrics.ascent() / 2 - metrics.descent() / 2), words)
        x += dial + gap + metrics.horizontalAdvance(words) + between
