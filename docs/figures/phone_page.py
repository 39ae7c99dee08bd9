"""Draws the README's picture of the page for a phone: a morning in the sample wood, in a real browser.

`python docs/figures/phone_page.py OUT.png`
"""

from __future__ import annotations

import io
import sys
import tempfile
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from PIL import Image, ImageDraw

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from standmap.jobs.opening import open_stand  # noqa: E402 - the checkout is on the path from here on
from standmap.jobs.planned_round import PlannedTrip  # noqa: E402
from standmap.jobs.round import plan_round  # noqa: E402
from standmap.jobs.round_options import RoundOptions  # noqa: E402
from standmap.jobs.sample_wood import DAY, make_sample  # noqa: E402
from standmap.jobs.walk_phone import walk_phone  # noqa: E402
from tests.jobs.phone.browser import Phone  # noqa: E402

GAP_PX, EDGE_PX = 48, 28
SHEET, FRAME = "#e9e6dc", "#22302a"


def draw(out: Path) -> None:
    """Walk a part of the morning and draw the map, a tree, and the map in the dark."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_sample("alder-brook", folder / "wood.gpkg", datetime.fromisoformat("2026-03-28T08:00:00+02:00"))
        with open_stand(folder / "wood.gpkg", read_only=True) as file:
            stand = file.stand()
        planned = plan_round(stand, DAY, RoundOptions())
        back = (datetime.now().astimezone() + timedelta(hours=2)).replace(second=0, microsecond=0)
        page = folder / "walk.html"
        page.write_text(walk_phone(replace(planned, back_by=back), stand, "picture"), encoding="utf-8")
        phone = Phone(folder / "profile", folder / "downloads")
        try:
            pictures = _screens(phone, page, planned.trips[0])
        finally:
            phone.close()
    wide, tall = pictures[0].size
    sheet = Image.new(
        "RGB", (GAP_PX + (wide + 2 * EDGE_PX + GAP_PX) * len(pictures), tall + 2 * (EDGE_PX + GAP_PX)), SHEET
    )
    drawing = ImageDraw.Draw(sheet)
    for n, picture in enumerate(pictures):
        left = GAP_PX + n * (wide + 2 * EDGE_PX + GAP_PX)
        drawing.rounded_rectangle((left, GAP_PX, left + wide + 2 * EDGE_PX, GAP_PX + tall + 2 * EDGE_PX), 56, FRAME)
        sheet.paste(picture, (left + EDGE_PX, GAP_PX + EDGE_PX))
    sheet.quantize(128, dither=Image.Dither.NONE).save(out, optimize=True)


def _screens(phone: Phone, page: Path, trip: PlannedTrip) -> list[Image.Image]:
    found = []

    def look() -> None:
        phone.js("document.activeElement.blur(); window.scrollTo(0, 0)")
        found.append(Image.open(io.BytesIO(phone.shot())).convert("RGB"))

    def on_the_way_to(number: int) -> None:
        """Stand a third of the way from one stop to the next, a few metres beside it."""
        (a, b), (c, d) = trip.stops[number - 2].tree.at, trip.stops[number - 1].tree.at
        phone.stand_at(a + (c - a) / 3 + 0.00003, b + (d - b) / 3, 6.0)
        phone.until(lambda: "to walk" in phone.text("#hint") and phone.all(".m-me"))

    phone.night(dark=False)
    phone.stand_at(*trip.stops[0].tree.at, 6.0)
    phone.open(page)
    phone.press_text("show where I am")
    phone.press("#begin")
    phone.press("#at-tree")
    phone.type(".stepper input", "3.5")
    phone.press("#write")
    on_the_way_to(2)
    look()
    phone.press("#at-tree")
    phone.press(".stepper button:last-child")
    look()
    for litres in ("2.5", "4"):
        phone.type(".stepper input", litres)
        phone.press("#write")
        phone.press("#at-tree")
    phone.press("#back")
    phone.night(dark=True)
    on_the_way_to(4)
    phone.press("button[aria-label='show the whole walk']")
    look()
    return found


if __name__ == "__main__":
    draw(Path(sys.argv[1]))
