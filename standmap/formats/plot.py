"""Plots as plain ink: a sheet to draw on in the colours of the window or of paper, and that sheet as a file.

Drawn by matplotlib without any of its windows. The typeface is the one kept in resources/fonts, so that a plot is the
same on every machine; two plots of the same data are the same bytes.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standmap.assets import resource
from standmap.errors import UserError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FONT = " ".join(("DejaVu", "Sans", "Condensed"))  # noqa: FLY002 - a name, and no sentence to translate
BOLD, PLAIN = 700, 400
PX_PER_INCH = 96
POINTS_PER_PX = 72 / PX_PER_INCH
PNG_DPI = 200
SUFFIXES = (".png", ".svg", ".pdf")


@dataclass(frozen=True, slots=True)
class PlotLook:
    """The colours and the type of a plot, "#RRGGBB" and pixels of 1/96 inch.

    Attributes
    ----------
    ink, second_ink, hairline
        Lines and text; text and lines of less weight; the thinnest lines.
    panel
        What the plot lies on.
    warm, cool
        Two fills that people with the common kinds of colour vision tell apart (Okabe and Ito, 2008); never the only
        carrier of what they tell. The panel's colour in a look without tints.
    """

    ink: str = "#000000"
    second_ink: str = "#4A4A4A"
    hairline: str = "#CFCFCF"
    panel: str = "#FFFFFF"
    warm: str = "#E69F00"
    cool: str = "#56B4E9"
    text_px: float = 12.0

    def stroke(self, points: float) -> float:
        """Return how wide a line is that has so many points beside text of 12 pixels."""
        return points * self.text_px / 12.0


PAPER = PlotLook()


def figure(look: PlotLook, width_px: float, height_px: float) -> Figure:
    """Return an empty sheet of a size in pixels of 1/96 inch, lying on the panel's colour."""
    from matplotlib.figure import Figure

    _font_known()
    return Figure(figsize=(width_px / PX_PER_INCH, height_px / PX_PER_INCH), dpi=PX_PER_INCH, facecolor=look.panel)


def make_ready() -> None:
    """Load what draws, which takes a while the first time: off the thread that shows plots."""
    from matplotlib.backends import backend_agg  # noqa: F401

    _font_known()


def calm_axes(sheet: Figure, look: PlotLook, box: tuple[float, float, float, float]) -> Axes:
    """Return axes with a foot line and thin level lines only; text in the look's type.

    Parameters
    ----------
    box
        Left, bottom, width and height in pixels.
    """
    width, height = sheet.get_size_inches() * PX_PER_INCH
    left, bottom, across, up = box
    # A sheet with no room for the axes still has them, too small to be seen.
    size = (max(across, 1.0) / width, max(up, 1.0) / height)
    axes = sheet.add_axes((left / width, bottom / height, *size), facecolor=look.panel)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(look.second_ink)
    axes.spines["bottom"].set_linewidth(0.8)
    dotted = look.hairline == look.ink  # else levels would weigh as much as what is told
    axes.grid(visible=True, axis="y", color=look.hairline, linewidth=0.6, linestyle=(0, (1, 4)) if dotted else "-")
    axes.set_axisbelow(True)
    axes.tick_params(length=0, labelsize=look.text_px * POINTS_PER_PX, labelcolor=look.second_ink, labelfontfamily=FONT)
    return axes


def text_of(look: PlotLook, *, second: bool = False, bold: bool = False) -> dict[str, Any]:
    """Return the keywords of a text in the look's type."""
    return {
        "fontfamily": FONT,
        "fontsize": look.text_px * POINTS_PER_PX,
        "color": look.second_ink if second else look.ink,
        "fontweight": BOLD if bold else PLAIN,
    }


def plot_bytes(sheet: Figure, suffix: str, title: str = "") -> bytes:
    """Return a sheet as the content of a file.

    Raises
    ------
    UserError
        If no plot is written with this suffix.
    """
    import matplotlib as mpl

    if suffix.lower() not in SUFFIXES:
        raise UserError(
            f"a plot cannot be written as '{suffix[:20]}'", f"name a file that ends in {', '.join(SUFFIXES)}"
        )
    kind = suffix.lower()[1:]
    # Without a date and with fixed names inside, the same plot is the same file.
    about: dict[str, Any] = {"png": {}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}[kind]
    if title:
        about = {**about, "Title": title}
    file = io.BytesIO()
    with mpl.rc_context({"svg.hashsalt": "standmap", "svg.fonttype": "none", "pdf.fonttype": 42}):
        sheet.savefig(file, format=kind, dpi=PNG_DPI if kind == "png" else PX_PER_INCH, metadata=about)
    return file.getvalue()


def plot_pixels(sheet: Figure, scale: float) -> tuple[bytes, int, int]:
    """Return a sheet as rows of red, green, blue and opacity, one byte each, with its width and height in pixels."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    sheet.set_dpi(PX_PER_INCH * scale)
    canvas: Any = FigureCanvasAgg(sheet)  # its methods carry no types
    canvas.draw()
    width, height = canvas.get_width_height()
    return bytes(canvas.buffer_rgba()), width, height


def checked_plot_path(path: Path) -> Path:
    """Return the path if a plot can be written with its suffix.

    Raises
    ------
    UserError
        If not.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise UserError(f"{path.name}: a plot cannot be written so", f"name a file that ends in {', '.join(SUFFIXES)}")
    return path


def _font_known() -> None:
    """Make our own typeface known, as plain and as bold: it calls its plain weight a little lighter than plain."""
    from matplotlib import font_manager

    known = {entry.fname for entry in font_manager.fontManager.ttflist}
    for name, weight in (("DejaVuSansCondensed.ttf", PLAIN), ("DejaVuSansCondensed-Bold.ttf", BOLD)):
        path = str(resource("fonts", name))
        if path not in known:
            entry = font_manager.FontEntry(path, 0, FONT, "normal", "normal", weight, "normal", "scalable")
            font_manager.fontManager.ttflist.insert(0, entry)
