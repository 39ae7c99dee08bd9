"""The look as data: colours, type and measures, and the style sheet made of them.

Fills of the verdicts are from the palette of Okabe and Ito (Color Universal Design, 2008), which people with the common
kinds of colour vision tell apart; fill is never the only carrier. A test computes every contrast from these tokens.
"""

from __future__ import annotations

from dataclasses import dataclass
from string import Template

from standmap.assets import resource
from standmap.rules.judgement import Verdict

GRID_PX = 4
PADDING_PX = 20
CORNER_PX = 12
ROW_PX = 28
HEADER_PX = 52
STRIP_PX = 72
PANEL_PX = 300
MARGIN_PX = 16
RECOLOUR_MS = 120
FADED = 0.4
"""How much is left of what the page is not about."""


@dataclass(frozen=True, slots=True)
class Theme:
    """One look. Colours are "#RRGGBB"; each name says what lies in that colour.

    Attributes
    ----------
    name
        "light", "dark" or "high contrast".
    ink, second_ink
        Text and marks; text of less weight.
    fills
        Fill of a tree's dial by verdict, None where the dial is open.
    chosen, on_chosen, second_on_chosen
        A chosen row, and text on it.
    rest_ring
        The inner ring of a resting tree.
    error
        Text that says what is wrong.
    """

    name: str
    background: str
    ground: str
    panel: str
    ink: str
    second_ink: str
    hairline: str
    accent: str
    on_accent: str
    soft_accent: str
    chosen: str
    on_chosen: str
    second_on_chosen: str
    water: str
    path: str
    hatch: str
    error: str
    fills: dict[Verdict, str | None]
    rest_ring: str = "#E69F00"
    dark: bool = False

    def fill(self, verdict: Verdict) -> str | None:
        """Return the fill of a verdict's dial, None where it is open."""
        return self.fills[verdict]

    @property
    def plates(self) -> bool:
        """Whether a picture in a chosen row needs the panel's colour behind it to be seen."""
        return self.chosen == self.ink


def _fills(panel: str, unfit: str) -> dict[Verdict, str | None]:
    return {
        Verdict.GIVING: "#56B4E9",
        Verdict.OFF_LIMITS: None,
        Verdict.UNFIT: unfit,
        Verdict.UNSURE: None,
        Verdict.GROWING_ON: None,
        Verdict.RESTING: panel,
        Verdict.READY: "#009E73",
    }


LIGHT = Theme(
    name="light",
    background="#FBFAF6",
    ground="#F3F1E8",
    panel="#FFFFFF",
    ink="#22302A",
    second_ink="#56645C",
    hairline="#DAD7CB",
    accent="#1F5D4A",
    on_accent="#FFFFFF",
    soft_accent="#E3EEE8",
    chosen="#E3EEE8",
    on_chosen="#22302A",
    second_on_chosen="#56645C",
    water="#8FB3C4",
    path="#B9AE97",
    hatch="#B8A6A0",
    error="#9B2C1D",
    fills=_fills("#FFFFFF", "#9AA39D"),
)

DARK = Theme(
    name="dark",
    background="#151B18",
    ground="#1C2420",
    panel="#1A211D",
    ink="#E9EDE8",
    second_ink="#A3B0A8",
    hairline="#35403A",
    accent="#8FD0B4",
    on_accent="#12211B",
    soft_accent="#24352D",
    chosen="#24352D",
    on_chosen="#E9EDE8",
    second_on_chosen="#A3B0A8",
    water="#4E7386",
    path="#6B6350",
    hatch="#6E5C57",
    error="#F2A08F",
    fills=_fills("#1A211D", "#9AA39D"),
    dark=True,
)

HIGH_CONTRAST = Theme(
    name="high contrast",
    background="#FFFFFF",
    ground="#FFFFFF",
    panel="#FFFFFF",
    ink="#000000",
    second_ink="#000000",
    hairline="#000000",
    accent="#000000",
    on_accent="#FFFFFF",
    soft_accent="#FFFFFF",
    chosen="#000000",
    on_chosen="#FFFFFF",
    second_on_chosen="#FFFFFF",
    water="#000000",
    path="#000000",
    hatch="#000000",
    error="#000000",
    fills=_fills("#FFFFFF", "#9AA39D"),
)

THEMES = {theme.name: theme for theme in (LIGHT, DARK, HIGH_CONTRAST)}


def style_sheet(theme: Theme, scale: float = 1.0) -> str:
    """Return the style sheet of the whole window.

    Parameters
    ----------
    scale
        1.0 up to 2.0: text and measures grow together.
    """

    def px(size: float) -> str:
        return f"{round(size * scale)}px"

    text = resource("styles", "window.qss").read_text(encoding="utf-8")
    sizes = {f"px{n}": px(n) for n in range(1, 81)}
    sizes["text"], sizes["second"], sizes["source"] = px(13), px(12.5), px(11)
    icons = resource("icons").as_posix()
    colours = {
        name: getattr(theme, name)
        for name in (
            "background",
            "ground",
            "panel",
            "ink",
            "second_ink",
            "hairline",
            "accent",
            "on_accent",
            "soft_accent",
            "chosen",
            "on_chosen",
            "error",
        )
    }
    edge = "2px" if theme is HIGH_CONTRAST else "1px"
    tone = "dark" if theme.dark else "light"
    return Template(text).substitute(colours, edge=edge, icons=icons, tone=tone, **sizes)
