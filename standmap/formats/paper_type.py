"""Type on paper: which typeface holds a character, and names of any script as they are read.

DejaVu Sans Condensed is kept in resources/fonts and goes into every file: Latin, Greek, Cyrillic, Hebrew, Arabic and
more. Chinese, Japanese and Korean characters are set in the standard typefaces of PDF, which whoever opens the file
brings along; `all_drawn` says where a name needs something else beside it.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from itertools import groupby
from typing import TYPE_CHECKING, Literal
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfbase.ttfonts import TTFont

from standmap.assets import resource

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

PLAIN = "DejaVuSansCondensed"
BOLD = "DejaVuSansCondensed-Bold"
CHINESE, JAPANESE, KOREAN = "STSong-Light", "HeiseiKakuGo-W5", "HYGothic-Medium"
ELLIPSIS = "…"
NBSP = "\u00a0"

_FAR_EAST = (
    (0x1100, 0x11FF, KOREAN), (0x2E80, 0x303F, CHINESE), (0x3040, 0x30FF, JAPANESE), (0x3130, 0x318F, KOREAN),
    (0x3400, 0x9FFF, CHINESE), (0xAC00, 0xD7A3, KOREAN), (0xF900, 0xFAFF, CHINESE), (0xFF00, 0xFFEF, CHINESE),
)  # fmt: skip
"""First and last code point of the blocks that other typefaces hold."""

_KEPT_SPACE = re.compile(r"(?<=\d) (?=(?:mm|cm|m|km|kg|L|min|in|ft|yd|mi|lb)\b)")
"""A number and its unit stay on one line."""

_RIGHT_TO_LEFT = frozenset({"R", "AL", "RLE", "RLO", "RLI", "AN"})


@lru_cache(maxsize=1)
def _glyphs() -> frozenset[int]:
    """Make the typefaces known to reportlab; return the code points that ours holds."""
    ours = [TTFont(name, str(resource("fonts", f"{name}.ttf"))) for name in (PLAIN, BOLD)]
    for font in ours:
        pdfmetrics.registerFont(font)
    for name in (CHINESE, JAPANESE, KOREAN):
        pdfmetrics.registerFont(UnicodeCIDFont(name))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)
    return frozenset(ours[0].face.charToGlyph)


def font_ready() -> str:
    """Return the name of the plain typeface, known to reportlab from now on."""
    _glyphs()
    return PLAIN


def right_to_left(text: str) -> bool:
    """Return whether anything in a text is read from the right."""
    return any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in text)


def isolated(text: str) -> str:
    """Return a name as it is put into a sentence: one read from the right does not turn what stands round it."""
    return f"\u2068{text}\u2069" if right_to_left(text) else text


def all_drawn(text: str) -> bool:
    """Return whether every character is in the typeface that goes with the file."""
    return all(ord(c) in _glyphs() for c in as_read(text))


def _plain(text: str) -> str:
    """Return a text without what cannot be printed; line breaks and tabs are spaces."""
    return "".join(c for c in " ".join(text.split()) if unicodedata.category(c) not in ("Cc", "Cs"))


def _base(text: str) -> str:
    """Return which way a text runs as a whole, "L" or "R": as its first letter does, names that are isolated left out.

    Rules P2 and P3 of the Unicode bidirectional algorithm (UAX 9).
    """
    deep = 0
    for kind in map(unicodedata.bidirectional, text):
        deep += (kind in ("LRI", "RLI", "FSI")) - (kind == "PDI" and deep > 0)
        if not deep and kind in ("L", "R", "AL"):
            return "L" if kind == "L" else "R"
    return "L"


def as_read(text: str, base: str = "") -> str:
    """Return one line as its characters stand from left to right, joined where their script joins them.

    Parameters
    ----------
    base
        Which way the text runs that it is a line of, "L" or "R"; found from the line where left out.
    """
    text = _plain(text)
    if right_to_left(text):
        from arabic_reshaper import reshape
        from bidi import get_display

        text = str(get_display(reshape(text), base_dir=base or _base(text)))
    return "".join(c for c in text if unicodedata.category(c) != "Cf")


def runs(text: str, *, bold: bool = False, base: str = "") -> list[tuple[str, str]]:
    """Return a line, as it is read, in pieces of one typeface each: name of the typeface and characters."""
    shown = as_read(text, base)
    japanese = any(0x3040 <= ord(c) <= 0x30FF for c in shown)
    return [
        (name, "".join(c for _, c in piece))
        for name, piece in groupby(((_font_of(c, bold, japanese), c) for c in shown), key=lambda pair: pair[0])
    ]


def _font_of(character: str, bold: bool, japanese: bool) -> str:
    code = ord(character)
    if code not in _glyphs():
        for first, last, name in _FAR_EAST:
            if first <= code <= last:
                return JAPANESE if japanese and name == CHINESE else name
    return BOLD if bold else PLAIN


def width_pt(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Return how wide a line is, points."""
    return sum(float(pdfmetrics.stringWidth(piece, name, size_pt)) for name, piece in runs(text, bold=bold))


def lines_of(text: str, size_pt: float, most_pt: float, *, bold: bool = False) -> list[str]:
    """Return a text in lines no wider than so many points; a word that is wider is broken.

    The lines are in the order of reading, whichever way that goes; each is still to be drawn.
    """
    lines: list[str] = []
    line = ""
    for word in _plain(text).split(" "):
        joined = f"{line} {word}" if line else word
        if width_pt(joined, size_pt, bold=bold) <= most_pt:
            line = joined
            continue
        if line:
            lines.append(line)
        line = word
        while width_pt(line, size_pt, bold=bold) > most_pt and len(line) > 1:
            fits = _fitting(line, size_pt, most_pt, bold)
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line]


def _fitting(line: str, size_pt: float, most_pt: float, bold: bool) -> int:
    """Return how many characters of a line fit, at least one."""
    low, high = 1, len(line)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if width_pt(line[:middle], size_pt, bold=bold) <= most_pt else (low, middle - 1)
    return low


def shortened(text: str, size_pt: float, most_pt: float, *, bold: bool = False) -> str:
    """Return a text that fits on one line, its end given up for an ellipsis where it must."""
    text = _plain(text)
    if width_pt(text, size_pt, bold=bold) <= most_pt:
        return text
    room = most_pt - width_pt(ELLIPSIS, size_pt, bold=bold)
    # A space at the end has no width by itself, but has one before the ellipsis.
    return text[: _fitting(text, size_pt, room, bold)].rstrip() + ELLIPSIS


def markup(
    text: str, *, bold: bool = False, size_pt: float | None = None, most_pt: float | None = None, base: str = ""
) -> str:
    """Return a text as a paragraph of reportlab takes it: escaped, each piece in a typeface that holds it.

    Parameters
    ----------
    size_pt, most_pt
        Size and width of its lines: what is read from the right is broken into lines here, where its order is known.
    """
    if size_pt is not None and most_pt is not None and right_to_left(text):
        lines = lines_of(text, size_pt, most_pt, bold=bold)
        return "<br/>".join(markup(line, bold=bold, base=_base(text)) for line in lines)
    pieces = runs(text, bold=bold, base=base)
    return "".join(f'<font name="{name}">{escape(_KEPT_SPACE.sub(NBSP, piece))}</font>' for name, piece in pieces)


def draw_line(
    canvas: Canvas,
    x: float,
    y: float,
    text: str,
    size_pt: float,
    *,
    bold: bool = False,
    side: Literal["left", "middle", "right"] = "left",
    most_pt: float | None = None,
) -> float:
    """Write one line, shortened to `most_pt` where given; return its width in points.

    Parameters
    ----------
    x, y
        Where its left end, middle or right end stands on the baseline, points.
    """
    shown = text if most_pt is None else shortened(text, size_pt, most_pt, bold=bold)
    pieces = runs(shown, bold=bold)
    width = sum(float(pdfmetrics.stringWidth(piece, name, size_pt)) for name, piece in pieces)
    at = x - {"left": 0.0, "middle": width / 2, "right": width}[side]
    for name, piece in pieces:
        canvas.setFont(name, size_pt)
        canvas.drawString(at, y, piece)
        at += float(pdfmetrics.stringWidth(piece, name, size_pt))
    return width
