"""Plots as files and as pixels."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from PIL import Image
from pypdf import PdfReader

from standmap.errors import UserError
from standmap.formats.plot import (
    PAPER,
    PNG_DPI,
    SUFFIXES,
    calm_axes,
    checked_plot_path,
    figure,
    plot_bytes,
    plot_pixels,
)
from standmap.formats.plot import text_of as type_of


def sheet() -> Figure:
    drawn = figure(PAPER, 480, 240)
    axes = calm_axes(drawn, PAPER, (40, 30, 420, 190))
    axes.plot([0, 1, 2], [0, 5, 20], color=PAPER.ink)
    axes.text(1, 10, "größer: 5–20 °C", **type_of(PAPER, bold=True))
    return drawn


def test_a_png_has_the_asked_size_and_an_svg_keeps_its_words() -> None:
    image = Image.open(io.BytesIO(plot_bytes(sheet(), ".png")))
    assert image.size == (480 * PNG_DPI // 96, 240 * PNG_DPI // 96)
    assert "größer: 5–20 °C" in plot_bytes(sheet(), ".svg").decode()
    page = PdfReader(io.BytesIO(plot_bytes(sheet(), ".PDF", "a plot"))).pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == (360, 180)
    assert "größer" in page.extract_text()


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_the_same_plot_is_the_same_file(suffix: str) -> None:
    assert plot_bytes(sheet(), suffix) == plot_bytes(sheet(), suffix)


def test_pixels_follow_the_fineness_of_a_screen() -> None:
    pixels, width, height = plot_pixels(sheet(), 2.0)
    assert (width, height, len(pixels)) == (960, 480, 960 * 480 * 4)
    assert pixels[:4] == b"\xff\xff\xff\xff"
    assert min(pixels) == 0  # something is drawn in ink


def test_another_kind_of_file_is_refused_with_the_kinds_there_are() -> None:
    with pytest.raises(UserError, match=r"name a file that ends in \.png, \.svg, \.pdf"):
        plot_bytes(sheet(), ".gif")
    with pytest.raises(UserError, match=r"season\.gif"):
        checked_plot_path(Path("season.gif"))
