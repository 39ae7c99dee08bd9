"""The colours of the map against what is published on seeing them.

Fills: M. Okabe and K. Ito, Color Universal Design (2002, revised 2008), eight colours, from memory.
Colour vision: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, A physiologically-based model for simulation of color
vision deficiency, IEEE TVCG 15(6), 2009, severity 1.0, matrices from memory; applied to linear sRGB.
Difference: CIEDE2000 (CIE 142-2001); checked with pairs of G. Sharma, W. Wu, E. N. Dalal (2005), from memory.
Contrast: WCAG 2.2, criteria 1.4.3 (text, 4.5) and 1.4.11 (graphics, 3).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from standmap.desktop.canvas.dials import contrast, mark_colour
from standmap.desktop.theme import DARK, HIGH_CONTRAST, LIGHT, Theme
from standmap.rules.judgement import Verdict

OKABE_ITO = {
    "black": "#000000",
    "orange": "#E69F00",
    "sky blue": "#56B4E9",
    "bluish green": "#009E73",
    "yellow": "#F0E442",
    "blue": "#0072B2",
    "vermilion": "#D55E00",
    "reddish purple": "#CC79A7",
}

VISION = {
    "common": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}

TOLD_APART = 10.0
"""CIEDE2000 between two fills: some ten times what is just seen side by side, so seen apart and in passing too."""

TEXT, GRAPHICS = 4.5, 3.0
THEMES = [LIGHT, DARK, HIGH_CONTRAST]
BACKDROPS = ["#FFFFFF", "#000000", "#D9E4C0", "#23301C"]
"""Under the halo: white, black, a bright meadow and a dark wood."""

each_theme = pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)


def linear(colour: str) -> NDArray[np.float64]:
    parts = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def lab(rgb: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return CIE L*a*b* (D65, 2 degrees) of linear sRGB (IEC 61966-2-1, from memory)."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = to_xyz @ np.clip(rgb, 0, 1) / to_xyz.sum(axis=1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def ciede2000(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    (l1, a1, b1), (l2, a2, b2) = one, other
    c = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    g = 0.5 * (1 - np.sqrt(c**7 / (c**7 + 25.0**7)))
    c1, c2 = np.hypot((1 + g) * a1, b1), np.hypot((1 + g) * a2, b2)
    h1 = np.degrees(np.arctan2(b1, (1 + g) * a1)) % 360 if c1 else 0.0
    h2 = np.degrees(np.arctan2(b2, (1 + g) * a2)) % 360 if c2 else 0.0
    turn = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180
    middle_l, middle_c = (l1 + l2) / 2, (c1 + c2) / 2
    middle_h = h1 + h2 if c1 * c2 == 0 else (h1 + turn / 2) % 360
    d_h = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    t = (
        1
        - 0.17 * np.cos(np.radians(middle_h - 30))
        + 0.24 * np.cos(np.radians(2 * middle_h))
        + 0.32 * np.cos(np.radians(3 * middle_h + 6))
        - 0.20 * np.cos(np.radians(4 * middle_h - 63))
    )
    s_l = 1 + 0.015 * (middle_l - 50) ** 2 / np.sqrt(20 + (middle_l - 50) ** 2)
    s_c, s_h = 1 + 0.045 * middle_c, 1 + 0.015 * middle_c * t
    r_c = 2 * np.sqrt(middle_c**7 / (middle_c**7 + 25.0**7))
    r_t = -r_c * np.sin(np.radians(60 * np.exp(-(((middle_h - 275) / 25) ** 2))))
    parts = (l2 - l1) / s_l, (c2 - c1) / s_c, d_h / s_h
    return float(np.sqrt(parts[0] ** 2 + parts[1] ** 2 + parts[2] ** 2 + r_t * parts[1] * parts[2]))


def seen(colour: str, vision: str) -> NDArray[np.float64]:
    return lab(VISION[vision] @ linear(colour))


@pytest.mark.parametrize(
    ("one", "other", "wanted"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
        ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ],
)
def test_the_difference_formula_gives_the_published_values(
    one: tuple[float, ...], other: tuple[float, ...], wanted: float
) -> None:
    assert ciede2000(np.array(one), np.array(other)) == pytest.approx(wanted, abs=5e-5)


def test_a_simulation_leaves_grey_grey() -> None:
    for matrix in VISION.values():
        assert matrix.sum(axis=1) == pytest.approx(np.ones(3), abs=2e-6)


@each_theme
def test_fills_are_the_published_colours_they_are_named_for(theme: Theme) -> None:
    assert theme.fill(Verdict.READY) == OKABE_ITO["bluish green"]
    assert theme.fill(Verdict.GIVING) == OKABE_ITO["sky blue"]
    assert theme.rest_ring == OKABE_ITO["orange"]
    for verdict in (Verdict.GROWING_ON, Verdict.OFF_LIMITS, Verdict.UNSURE):
        assert theme.fill(verdict) is None


@pytest.mark.parametrize("vision", VISION)
@each_theme
def test_fills_are_told_apart_with_any_kind_of_colour_vision(theme: Theme, vision: str) -> None:
    fills = {
        "ready": theme.fills[Verdict.READY],
        "giving": theme.fills[Verdict.GIVING],
        "resting": theme.rest_ring,
        "unfit": theme.fills[Verdict.UNFIT],
        "open": theme.ground,
    }
    apart = {
        (a, b): ciede2000(seen(str(fills[a]), vision), seen(str(fills[b]), vision)) for a, b in combinations(fills, 2)
    }
    assert {pair: round(value, 1) for pair, value in apart.items() if value < TOLD_APART} == {}


@each_theme
def test_outline_and_marks_stand_out_from_what_they_lie_on(theme: Theme) -> None:
    assert contrast(theme.ink, theme.ground) >= GRAPHICS
    for verdict in Verdict:
        fill = theme.fill(verdict)
        on = theme.ground if fill is None else fill
        assert contrast(mark_colour(fill, theme), on) >= GRAPHICS, verdict
    # The hand of the rest lies between the ring's full part and the panel colour beside it.
    assert max(contrast(theme.ink, theme.panel), contrast(theme.ink, theme.rest_ring)) >= GRAPHICS
    assert contrast(theme.ink, theme.panel) >= GRAPHICS
    # What is chosen, pointed at and focused.
    assert contrast(theme.accent, theme.ground) >= GRAPHICS


@pytest.mark.parametrize("backdrop", BACKDROPS)
@each_theme
def test_over_any_backdrop_the_outline_or_its_halo_stands_out(theme: Theme, backdrop: str) -> None:
    # The outline lies on the halo; the dial as a whole is seen by the one that differs from the backdrop.
    assert contrast(theme.ink, theme.ground) >= GRAPHICS
    assert max(contrast(theme.ink, backdrop), contrast(theme.ground, backdrop)) >= GRAPHICS


@each_theme
def test_text_can_be_read(theme: Theme) -> None:
    for paper in (theme.background, theme.ground, theme.panel):
        for text in (theme.ink, theme.second_ink, theme.accent, theme.error):
            assert contrast(text, paper) >= TEXT, (text, paper)
    assert contrast(theme.on_accent, theme.accent) >= TEXT
    assert contrast(theme.ink, theme.soft_accent) >= TEXT
    for text in (theme.on_chosen, theme.second_on_chosen):
        assert contrast(text, theme.chosen) >= TEXT


def test_a_chosen_row_is_seen_in_high_contrast_by_its_ground_alone() -> None:
    assert contrast(HIGH_CONTRAST.chosen, HIGH_CONTRAST.panel) >= GRAPHICS
    assert HIGH_CONTRAST.plates


def test_contrast_is_that_of_the_guideline() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)
    assert contrast("#123456", "#123456") == 1
