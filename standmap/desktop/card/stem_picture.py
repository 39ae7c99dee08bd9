"""The stem as a file: its disc and its bark unrolled, with their words, as PDF, SVG or PNG."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter
from PySide6.QtWidgets import QWidget

from standmap.desktop.card.stem_disc import StemDisc
from standmap.desktop.card.stem_unrolled import StemUnrolled
from standmap.desktop.card.stem_view import stem_view
from standmap.desktop.card.unrolled_view import unrolled_view
from standmap.desktop.card.wording import left_line, place_line, zone_line
from standmap.desktop.desk import Desk
from standmap.desktop.file_asking import asked_file
from standmap.desktop.pictures.files import checked_suffix, picture_bytes
from standmap.desktop.pictures.sheet import PX_PER_MM
from standmap.desktop.theme import LIGHT
from standmap.desktop.words import day_text, said, tr
from standmap.errors import UserError
from standmap.jobs.tree_facts import TreeFacts
from standmap.jobs.writing_files import write_files
from standmap.stem.column import RATIO_TOLD
from standmap.stem.zone import ZONE_TOLD
from standmap.units_shown import UnitsShown

WIDE_PX = 640
MARGIN_PX, GAP_PX = 28, 12
DISC_PX = 240
TEXT_PX = 13
SHEET_PX = QSize(360, 460)


@dataclass(frozen=True, slots=True)
class _Paper:
    width_mm: float
    height_mm: float


def stem_picture(facts: TreeFacts, units: UnitsShown, title: str, this_season: int, suffix: str) -> bytes:
    """Return the stem of a tree as the content of a file; to be called on the GUI thread.

    Parameters
    ----------
    suffix
        ".pdf", ".svg" or ".png".

    Raises
    ------
    UserError
        If there is no such kind of picture.
    """
    girth = facts.measurement.girth() if facts.measurement is not None else None
    left = facts.stem.by_key()
    lines = {hole.key: left_line(hole, left.get(hole.key), units, this_season) for hole in facts.holes}
    disc, sheet = StemDisc(LIGHT), StemUnrolled(LIGHT)
    # Points would grow with the fineness of what is drawn on, pixels of the drawing do not.
    font = QFont(disc.font())
    font.setPixelSize(TEXT_PX)
    for part in (disc, sheet):
        part.setFont(font)
    disc.show_stem(stem_view(girth, facts.holes, facts.stem, facts.place), facts.holes, lines, LIGHT)
    sheet.show_stem(unrolled_view(girth, facts.holes, facts.place, facts.stem), "", lines, units, LIGHT)
    disc.resize(DISC_PX, disc.sizeHint().height())
    sheet.resize(SHEET_PX)
    grey = tr("stem unrolled; grey: wood that old holes left without sap, dotted where new wood has buried it")
    words = [
        grey if sheet.view is not None else "",
        place_line(facts.place, units),
        zone_line(facts.stem, units),
        *lines.values(),
        f"{said(RATIO_TOLD)}; {said(ZONE_TOLD)}",
    ]
    told = "\n".join(filter(None, words))
    high = _drawn(None, font, title, disc, sheet, told)
    paper = _Paper(WIDE_PX / PX_PER_MM, high / PX_PER_MM)
    return picture_bytes(paper, suffix, lambda painter: _drawn(painter, font, title, disc, sheet, told), title=title)


def _drawn(painter: QPainter | None, font: QFont, title: str, disc: StemDisc, sheet: StemUnrolled, told: str) -> float:
    """Draw everything, or with no painter only measure; return how high it is, logical pixels."""
    inside = WIDE_PX - 2 * MARGIN_PX
    heading = QFont(font)
    heading.setBold(True)
    heading.setPixelSize(TEXT_PX + 3)
    y = MARGIN_PX + QFontMetricsF(heading).height() + GAP_PX
    tall = max(disc.height(), sheet.height() if sheet.view is not None else 0)
    flags = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap)
    box = QFontMetricsF(font).boundingRect(QRectF(0, 0, inside, 10_000), flags, told)
    high = y + tall + GAP_PX + box.height() + MARGIN_PX
    if painter is not None:
        painter.fillRect(QRectF(0, 0, WIDE_PX, high), QColor("white"))
        painter.setPen(QColor(LIGHT.ink))
        painter.setFont(heading)
        painter.drawText(QRectF(MARGIN_PX, MARGIN_PX, inside, y), flags, title)
        painter.setFont(font)
        painter.drawText(QRectF(MARGIN_PX, y + tall + GAP_PX, inside, box.height() + 2), flags, told)
        _put(painter, disc, MARGIN_PX, y)
        if sheet.view is not None:
            _put(painter, sheet, MARGIN_PX + disc.width() + GAP_PX, y)
    return high


def _put(painter: QPainter, part: StemDisc | StemUnrolled, x: float, y: float) -> None:
    painter.save()
    painter.translate(x, y)
    part.draw(painter)
    painter.restore()


def save_stem_picture(desk: Desk, over: QWidget, facts: TreeFacts) -> None:
    """Ask for a file and draw the stem into it."""
    name = f"{facts.tree.name}.pdf".replace("/", "-")
    path = asked_file(over, desk, None, tr("picture of the stem"), name, "PDF (*.pdf);;SVG (*.svg);;PNG (*.png)")
    if path is None:
        return
    title = tr("{tree}: stem on {day}", tree=facts.tree.name, day=day_text(desk.today))
    units, season = desk.units, desk.today.year
    try:
        content = stem_picture(facts, units, title, season, checked_suffix(path))
    except UserError as error:
        desk.error(error)
        return
    desk.compute(
        lambda _: write_files(path.parent, {path.name: content}, replace=True),
        tr("writing the files"),
        lambda _: desk.tell(tr("{name} is in {folder}", name=path.name, folder=path.parent)),
    )
