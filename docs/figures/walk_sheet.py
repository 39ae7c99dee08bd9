"""Draws the README's picture of a walk sheet: the pages of one morning's walk side by side.

`python docs/figures/walk_sheet.py demo-out/alder-brook.gpkg resources/pictures/walk-sheet.png`; needs pdftoppm.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from datetime import date
from pathlib import Path

from PIL import Image, ImageOps

from standmap.jobs.opening import open_stand
from standmap.jobs.round import RoundOptions, plan_round
from standmap.jobs.walk_paper import walk_paper

DAY = date(2026, 3, 28)
DPI = 84
PAGES = 2
BETWEEN_PX = 16


def main(stand_path: Path, out: Path) -> None:
    """Plan the morning of the sample wood and draw the first pages of its sheet."""
    with open_stand(stand_path, read_only=True) as file:
        stand = file.stand()
    content = walk_paper(plan_round(stand, DAY, RoundOptions()), stand, stand_path.stem)
    with tempfile.TemporaryDirectory() as made:
        command = ["pdftoppm", "-r", str(DPI), "-l", str(PAGES), "-png", "-gray", "-", f"{made}/page"]
        subprocess.run(command, input=content, check=True)  # noqa: S603 - our own program, our own file
        pages = [ImageOps.expand(Image.open(path), 1, 150) for path in sorted(Path(made).glob("page*.png"))]
    wide = sum(page.width for page in pages) + BETWEEN_PX * (len(pages) - 1)
    sheet = Image.new("L", (wide, pages[0].height), 255)
    for k, page in enumerate(pages):
        sheet.paste(page, (k * (page.width + BETWEEN_PX), 0))
    sheet.quantize(32).save(out, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
