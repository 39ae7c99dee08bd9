"""Making a picture of a stand's map from what is seen of it: without a window, on any thread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QFont, QImage, QPainter

from standmap.desktop.backdrop.tiled_backdrop import image_of
from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.ground import Ground
from standmap.desktop.canvas.scene import Scene
from standmap.desktop.canvas.trees import Trees
from standmap.desktop.measuring.told import north_text
from standmap.desktop.pictures.drawing import THEME, SheetTexts, draw_sheet
from standmap.desktop.pictures.files import DPI, picture_bytes
from standmap.desktop.pictures.sheet import Box, Sheet, extent_of, sheet_for
from standmap.desktop.seen import Seen
from standmap.errors import UserError
from standmap.formats.raster_window import Window
from standmap.jobs.backdrop import Backdrop, backdrop_of, drawn, look_at
from standmap.jobs.first_look import rest_passed
from standmap.progress import Progress
from standmap.rules.columns import CODES, verdict_columns
from standmap.rules.judgement import Verdict
from standmap.survey.frame import WorkingFrame
from standmap.survey.north import declination
from standmap.units_shown import UnitsShown

BACKDROP_DPI = 200
MOST_BACKDROP_PX = 6000


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureOptions:
    """How a picture is to be.

    Attributes
    ----------
    scale
        True scale, 1000 for 1:1000; None for the largest common one at which the stand is on the paper.
    paper, landscape
        See `sheet_for`.
    dpi
        Dots an inch of a PNG.
    title
        The name of the stand's file when empty.
    extent
        What is to be on the map, metres; the whole stand when None.
    """

    scale: float | None = None
    paper: str = "A4"
    landscape: bool | None = None
    dpi: int = DPI
    title: str = ""
    extent: Box | None = None


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that was made.

    Attributes
    ----------
    outside
        How many trees are not on the sheet.
    """

    content: bytes
    sheet: Sheet
    outside: int


def scene_of(seen: Seen, season: int) -> Scene:
    """Return a stand as it is drawn on paper for a season."""
    codes, back_in = verdict_columns(seen.columns, season, seen.rules)
    rest = rest_passed(codes, back_in, season, seen.rules)
    trees = seen.trees
    shown = Trees([t.key for t in trees], [t.name for t in trees], seen.xy, seen.girth_mm, codes, rest)
    ground = Ground.of(seen.stand.places, seen.stand.lines, seen.stand.areas, seen.frame)
    return Scene(THEME, trees=shown, ground=ground)


def planned_sheet(seen: Seen, scene: Scene, options: PictureOptions) -> Sheet:
    """Return the sheet for a stand.

    Raises
    ------
    UserError
        If nothing of the stand has a place, or the options make no sheet.
    """
    extent = options.extent or extent_of(seen.xy, scene.ground.xy())
    if extent is None:
        raise UserError(f"{seen.path.name}: there is nothing to draw yet", "bring in trees or places first")
    return sheet_for(extent, scale=options.scale, paper=options.paper, landscape=options.landscape)


def make_picture(
    seen: Seen,
    scene: Scene,
    season: int,
    suffix: str,
    options: PictureOptions,
    units: UnitsShown,
    font: QFont,
    day: date,
    progress: Progress,
) -> Picture | None:
    """Draw a stand's map on its sheet.

    Parameters
    ----------
    scene
        What is on the map; whatever is chosen in it is not drawn as chosen.
    suffix
        ".pdf", ".svg" or ".png".

    Returns
    -------
    The picture; None when a stop was wanted.

    Raises
    ------
    UserError
        If it cannot be made so.
    """
    sheet = planned_sheet(seen, scene, options)
    kept = backdrop_of(seen.stand, seen.path)
    under = None
    if kept is not None and seen.frame is not None:
        under = _still(kept, seen.frame, sheet, progress)
        if under is None or progress.stop_wanted():
            return None
    plain = replace(scene, theme=THEME, scale=1.0, backdrop=under, chosen=(), pointed=None, hovered=None)
    written = QFont(font)
    for feature in ("tnum", "calt", "liga"):  # other shapes of a letter have none behind them when copied from a PDF
        written.setFeature(QFont.Tag(feature), 0)
    texts = _texts(seen, scene.trees.codes, season, options.title, day, "" if kept is None else kept.attribution)
    content = picture_bytes(
        sheet,
        suffix,
        lambda painter: draw_sheet(painter, sheet, plain, texts, units, written),
        dpi=options.dpi,
        title=texts.title,
    )
    return Picture(content, sheet, sheet.outside(seen.xy))


def _texts(seen: Seen, codes: NDArray[np.uint8], season: int, title: str, day: date, attribution: str) -> SheetTexts:
    counts: Sequence[int] = np.bincount(codes, minlength=len(CODES)).tolist()
    told, deg = "", None
    if seen.frame is not None:
        try:
            found = declination(seen.frame.lon0, seen.frame.lat0, day)
        except UserError:
            pass
        else:
            told, deg = north_text(found), found.deg
    shown: dict[Verdict, int] = dict(zip(CODES, counts, strict=True))
    return SheetTexts(title or seen.path.stem, day.isoformat(), season, shown, deg, told, attribution)


class StillBackdrop:
    """A backdrop drawn once for one sheet."""

    def __init__(self, image: QImage, window: Window, kept: Backdrop) -> None:
        self._image = image
        self._window = window
        self._kept = kept

    @property
    def attribution(self) -> str:
        """Nothing: whose picture it is stands at the foot of the sheet."""
        return ""

    def paint(self, painter: QPainter, camera: Camera) -> None:
        """Draw it, north up."""
        window = self._window
        left, top = camera.point_to_screen(window.left_m, window.top_m)
        px = window.cell_m * camera.px_per_m
        painter.setOpacity(self._kept.strength)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(QRectF(QPointF(left, top), self._image.size().toSizeF() * px), self._image)


def _still(kept: Backdrop, frame: WorkingFrame, sheet: Sheet, progress: Progress) -> StillBackdrop | None:
    found = look_at(kept)
    west, south, east, north = sheet.camera.box_m()
    cell = max(
        sheet.scale * 0.0254 / BACKDROP_DPI, (east - west) / MOST_BACKDROP_PX, (north - south) / MOST_BACKDROP_PX
    )
    cell = max(cell, found.finest_m / 2)
    window = Window(west, north, cell, int(np.ceil((east - west) / cell)), int(np.ceil((north - south) / cell)))
    picture = drawn(found, frame, window, progress)
    return None if picture is None else StillBackdrop(image_of(picture), window, kept)
