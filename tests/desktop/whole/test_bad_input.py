"""Bad input by hand: the field says what is wrong beside it, keeps what was typed, and no row changes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import QWidget

from standmap.desktop.kit import Field
from tests.desktop.whole.whole_window import CTRL, Whole, exact_rows

LONG = "a" * 10_000
EMOJI = "\U0001f333\U0001f9c3"
HEBREW = "עץ ליבנה"
ARABIC = "بتولا ٣"
CONTROL = "B\u202e1"  # turns the rest of the line round


def told_beside(field: Field[Any], typed: str) -> str:
    """Return what is said at a field, which must be in sight and keep what was typed."""
    assert field.text() == typed
    assert field.wrong.isVisible()
    said = field.wrong.text()
    assert said
    assert len(said) < 400
    assert field.edit.accessibleDescription() == said
    assert field.edit.property("wrong") == "true"
    # Directly at the field: below it, on its left edge, and not over it.
    edit, wrong = _place(field.edit), _place(field.wrong)
    assert 0 <= wrong.top() - edit.bottom() < 12
    assert wrong.left() <= edit.left() + 2
    return said


def _place(widget: QWidget) -> QRect:
    return QRect(widget.mapTo(widget.window(), QPoint(0, 0)), widget.size())


@pytest.fixture
def unchanged(begin: Callable[..., Whole], alder_brook: Path) -> Any:
    """Yield a window, and see to it that nothing was written in the end."""
    before = exact_rows(alder_brook)
    whole = begin(alder_brook)
    yield whole
    whole.idle()
    assert exact_rows(alder_brook) == before
    whole.window.close()


def shown(whole: Whole) -> Any:
    whole.until(lambda: whole.window.card.form is not None and whole.window.card.form.isVisible())
    return whole.window.card.form


CARD = [
    ("card.measure", "thickness", "0", "girth"),
    ("card.measure", "thickness", "9 m", "9"),
    ("card.measure", "thickness", "-3", "-3"),
    ("card.measure", "thickness", EMOJI, "not a"),
    ("card.measure", "thickness", "8" * 10_000, ""),
    ("card.measure", "on", "2026-03-29", "after today"),
    ("card.measure", "on", "3026-01-01", ""),
    ("card.measure", "on", "2026-02-30", ""),
    ("card.measure", "on", HEBREW, ""),
    ("card.hole", "on", "2027-03-28", ""),
    ("card.hole", "side", "361", ""),
    ("card.hole", "depth_in", "90000", ""),
    ("card.hole", "note", LONG, "10000"),
    ("card.collection", "volume", "-1", ""),
    ("card.collection", "volume", "900", ""),
    ("card.collection", "volume", EMOJI, ""),
    ("card.collection", "on", "2126-03-28", ""),
    ("card.collection", "at", "25:00", ""),
    ("card.care", "on", "tomorrow", ""),
    ("card.re_tag", "name", LONG, "10000"),
    ("card.re_tag", "name", "   ", ""),
    ("card.re_tag", "name", "B02", "another tree"),
    ("card.re_tag", "name", CONTROL, ""),
    ("card.species", "species", LONG, ""),
    ("card.species", "species", CONTROL, ""),
    ("card.move", "position", "91 26", ""),
    ("card.move", "position", "58 181", ""),
    ("card.move", "position", "nan inf", ""),
    ("card.move", "position", HEBREW, ""),
    ("card.move", "position", LONG, ""),
    ("card.move", "position", "58.3168", ""),
    ("card.move", "epsg", EMOJI, ""),
    ("card.merge", "into", LONG, ""),
    ("card.merge", "into", HEBREW, ""),
    ("card.belongs", "to", "no such tree", ""),
    ("card.one_root", "stems", EMOJI, ""),
    ("card.felled", "on", "2026-12-31", ""),
]


@pytest.mark.parametrize(("action", "name", "text", "why"), CARD, ids=[f"{a}-{n}-{t[:8]}" for a, n, t, _ in CARD])
def test_on_the_card(unchanged: Whole, action: str, name: str, text: str, why: str) -> None:
    whole = unchanged
    whole.find("B09")
    whole.window.actions_list.run(whole.window.actions_list.get(action))
    form = shown(whole)
    field: Field[Any] = getattr(form, name)
    whole.fill(field, text)
    whole.press(form.save)
    whole.idle()
    assert why in told_beside(field, text)
    assert next(f for f in form.fields if f.wrong.text()).edit.hasFocus()
    assert whole.window.card.form is form


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("position", "91 26"),
        ("position", "0 0 0 0 0 0 0 0"),
        ("position", EMOJI),
        ("position", ARABIC),
        ("position", LONG),
        ("name", LONG),
        ("name", "B02"),
        ("name", CONTROL),
        ("species", LONG),
        ("girth", "0"),
        ("girth", "9 m"),
        ("girth", HEBREW),
    ],
    ids=lambda text: text[:8],
)
def test_placing_a_tree(unchanged: Whole, name: str, text: str) -> None:
    whole = unchanged
    whole.go(1)
    whole.key(Qt.Key.Key_T, Qt.KeyboardModifier.AltModifier)
    sheet = whole.survey.by_hand.place
    whole.fill(sheet.spot.position, "58.3168 26.0495")
    field = sheet.spot.position if name == "position" else getattr(sheet, name)
    whole.fill(field, text)
    whole.press(sheet.place)
    whole.idle()
    told_beside(field, text)
    assert sheet.isVisible()


def test_a_place_far_away_is_doubted_and_can_be_meant(unchanged: Whole) -> None:
    whole = unchanged
    whole.go(1)
    whole.key(Qt.Key.Key_T, Qt.KeyboardModifier.AltModifier)
    sheet = whole.survey.by_hand.place
    whole.fill(sheet.spot.position, "26.0495 58.3168")  # latitude and longitude exchanged
    whole.key(Qt.Key.Key_Return)
    whole.until(sheet.spot.sure.isVisible)
    told_beside(sheet.spot.position, "26.0495 58.3168")


@pytest.mark.parametrize("text", ["91 26\n58 26", "58.3168 26.0495\nhere", EMOJI, LONG], ids=lambda t: t[:8])
def test_drawing_the_ground(unchanged: Whole, text: str) -> None:
    whole = unchanged
    whole.go(1)
    whole.press(whole.survey.home.draw[next(iter(whole.survey.home.draw))])
    sheet = whole.survey.by_hand.draw
    sheet.points.setFocus()
    whole.type(text)
    sheet.name.edit.setFocus()
    whole.key(Qt.Key.Key_Return)
    whole.idle()
    assert sheet.points.toPlainText() == text
    assert sheet.points_wrong.isVisible()
    assert sheet.points_wrong.text()
    assert sheet.isVisible()


def test_a_day_to_come_for_what_was_done(unchanged: Whole) -> None:
    whole = unchanged
    whole.go(4)
    page = whole.aftercare
    whole.until(lambda: page.care is not None)
    whole.window.actions_list.run(whole.window.actions_list.get("aftercare.all"))
    whole.until(page.done.isEnabled)
    whole.fill(page.done_on, "2026-03-29")
    whole.press(page.done)
    told_beside(page.done_on, "2026-03-29")


def test_names_of_any_script_are_kept_as_they_are(begin: Callable[..., Whole], alder_brook: Path) -> None:
    whole = begin(alder_brook)
    for old, new in (("B09", EMOJI), (EMOJI, HEBREW), (HEBREW, ARABIC), (ARABIC, "<b>B09</b> & Co. {n}")):
        whole.desk.choose([whole.seen.stand.tree(old).key])
        whole.window.actions_list.run(whole.window.actions_list.get("card.re_tag"))
        form = shown(whole)
        whole.fill(form.name, new)
        whole.key(Qt.Key.Key_Return)
        whole.until(lambda: whole.window.card.form is None)
        assert whole.on_card == new
        assert whole.window.card.head.name.text().replace("\u200b", "") == new
        assert any(new in text for _, text in whole.told)
        for page in (1, 2, 3, 4):
            whole.go(page)
            whole.window.grab()
    whole.window.canvas.setFocus()
    whole.key(Qt.Key.Key_Z, CTRL)
    whole.until(lambda: whole.on_card == ARABIC)
