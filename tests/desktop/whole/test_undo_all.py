"""Any sequence of edits made in the window, taken back with Ctrl+Z until none is left, gives the first rows again."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from standmap.desktop.dialogs.rules_dialog import RulesDialog
from tests.desktop.whole.whole_window import Whole, exact_rows

Edit = Callable[[Whole], None]


def do(whole: Whole, action_id: str) -> None:
    """Run one of the window's own actions, if it can be done now, and wait for what it began."""
    whole.window.actions_list.run(whole.window.actions_list.get(action_id))
    whole.idle()


class Typed:
    """A form of the card: which action opens it, what is typed into its fields, what is chosen in its lists."""

    def __init__(self, action_id: str, *texts: str, picks: tuple[int, ...] = ()) -> None:
        self.action_id, self.texts, self.picks = action_id, texts, picks

    def __repr__(self) -> str:
        return f"Typed({self.action_id!r}, {self.texts}, {self.picks})"

    def __call__(self, whole: Whole) -> None:
        do(whole, self.action_id)
        form = whole.window.card.form
        if form is None:
            return
        for field, text in zip(form.fields, self.texts, strict=False):
            field.edit.setFocus()
            field.edit.selectAll()
            whole.type(text)
        for choice, pick in zip(form.choices, self.picks, strict=False):
            choice.box.setFocus()
            for _ in range(pick):
                whole.key(Qt.Key.Key_Down)
        form.save.setFocus()
        whole.key(Qt.Key.Key_Space)
        whole.idle()
        if whole.window.card.form is not None:  # refused: what was typed was not possible
            form.cancel.setFocus()
            whole.key(Qt.Key.Key_Space)


class Named:
    """An edit that can be told when an example fails."""

    def __init__(self, name: str, edit: Edit) -> None:
        self.name, self.edit = name, edit

    def __repr__(self) -> str:
        return self.name

    def __call__(self, whole: Whole) -> None:
        self.edit(whole)


def chosen(*names: str, then: Edit) -> Edit:
    def edit(whole: Whole) -> None:
        known = {t.name: t.key for t in whole.seen.trees}
        whole.desk.choose([known[n] for n in names if n in known])
        then(whole)

    return Named(f"chosen{names}.{then!r}", edit)


def at_once(action_id: str) -> Edit:
    return Named(action_id, lambda whole: do(whole, action_id))


def place(name: str, at: str) -> Edit:
    def edit(whole: Whole) -> None:
        do(whole, "survey.place")
        sheet = whole.survey.by_hand.place
        whole.fill(sheet.spot.position, at)
        whole.fill(sheet.name, name)
        whole.key(Qt.Key.Key_Return)
        whole.idle()
        whole.press(sheet.leave)

    return Named(f"place({name!r}, {at!r})", edit)


def draw(kind: str, points: str, name: str) -> Edit:
    def edit(whole: Whole) -> None:
        do(whole, f"survey.draw_{kind}")
        sheet = whole.survey.by_hand.draw
        whole.fill(sheet.name, name)
        sheet.points.setFocus()
        whole.type(points)
        if sheet.keep.isEnabled():
            whole.press(sheet.keep)
            whole.idle()
        if sheet.isVisible():
            whole.press(sheet.leave)

    return Named(f"draw({kind!r}, {points!r}, {name!r})", edit)


def on_ground(row: int, button: str, name: str = "") -> Edit:
    def edit(whole: Whole) -> None:
        whole.window.show_page("survey")
        home, sheet = whole.survey.home, whole.survey.by_hand.draw
        home.ground.setCurrentRow(row % max(home.ground.count(), 1))
        if button == "remove" and home.remove.isEnabled():
            whole.press(home.remove)
        elif home.edit.isEnabled():
            whole.press(home.edit)
            whole.fill(sheet.name, name)
            whole.key(Qt.Key.Key_Return)
            whole.idle()
            if sheet.isVisible():
                whole.press(sheet.leave)
        whole.idle()

    return Named(f"on_ground({row}, {button!r}, {name!r})", edit)


def rule(figure: str, value: str) -> Edit:
    def edit(whole: Whole) -> None:
        do(whole, "stand.rules")
        dialog = whole.dialog(RulesDialog)
        whole.fill(dialog.figures[figure].field, value)
        whole.press(dialog.keep_button)
        whole.until(lambda: not any(d.isVisible() for d in whole.window.findChildren(RulesDialog)))
        whole.to_front()  # as the desktop does when a dialog goes
        whole.idle()

    return Named(f"rule({figure!r}, {value!r})", edit)


def care(rows: int) -> Edit:
    def edit(whole: Whole) -> None:
        whole.window.show_page("aftercare")
        whole.until(lambda: whole.aftercare.care is not None)
        do(whole, "aftercare.all" if rows > 2 else "aftercare.overdue")
        do(whole, "aftercare.done")

    return Named(f"care({rows})", edit)


def returns(*litres: str) -> Edit:
    def edit(whole: Whole) -> None:
        whole.window.show_page("collect")
        page = whole.collect
        page.enter_returns(with_walk=False)
        for line, text in zip(page.returns.lines.values(), litres, strict=False):
            line.amount.setFocus()
            line.amount.selectAll()
            whole.type(text)
        do(whole, "collect.go")
        if page.returns.asking.isVisible():
            whole.press(page.returns.in_place)
            whole.idle()

    return Named(f"returns{litres}", edit)


def bring(number: int) -> Edit:
    def edit(whole: Whole) -> None:
        assert whole.desk.path is not None
        path = whole.desk.path.parent / f"more{number}.csv"
        path.write_text(
            f"name,lon,lat,girth_mm\nB0{number},26.0494537,58.3168235,9{number}0\nN{number},26.05,58.317,800\n"
        )
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(path)], ""))
            do(whole, "survey.files")
        do(whole, "survey.store")
        whole.survey.bringing.discard()

    return Named(f"bring({number})", edit)


TREES = ("B02", "B04", "B07", "B09", "B23", "P1")
names = st.sampled_from(TREES)
days = st.sampled_from(["2026-03-28", "2026-03-01", "2024-04-02"])
spots = st.sampled_from(["58.3168 26.0495", "58.3172 26.0502", "58.32 26.06"])

with_tree: st.SearchStrategy[Edit] = st.one_of(
    st.builds(Typed, st.just("card.measure"), st.sampled_from(["84,2", "90.5 cm", "31 in"]), days),
    st.builds(Typed, st.just("card.hole"), days, st.sampled_from(["SW", ""]), st.sampled_from(["100", ""])),
    st.builds(Typed, st.just("card.collection"), st.sampled_from(["2.5", "1,25"]), days),
    st.builds(Typed, st.just("card.care"), days, picks=st.tuples(st.integers(0, 4), st.integers(0, 1))),
    st.builds(Typed, st.just("card.re_tag"), st.sampled_from(["K1", "K2", "B02"])),
    st.builds(Typed, st.just("card.move"), spots),
    st.builds(Typed, st.just("card.belongs"), names),
    st.builds(Typed, st.just("card.merge"), names),
    st.builds(Typed, st.just("card.one_root"), names),
    st.builds(Typed, st.just("card.species"), st.sampled_from(["Betula pendula", "alder"])),
    st.builds(Typed, st.sampled_from(["card.felled", "card.died"]), days),
    st.builds(
        at_once,
        st.sampled_from(
            ["card.mark", "card.sound", "card.unsound", "card.confirm", "card.confirm_tag", "card.own_root"]
        ),
    ),
)
with_several: st.SearchStrategy[Edit] = st.builds(
    at_once,
    st.sampled_from(["card.mark", "card.sound", "card.confirm", "card.confirm_tag", "card.one_root", "card.own_root"]),
)
edits: st.SearchStrategy[Edit] = st.one_of(
    st.builds(lambda n, e: chosen(n, then=e), names, with_tree),
    st.builds(lambda n, e: chosen(n, then=e), names, with_tree),
    st.builds(lambda ns, e: chosen(*ns, then=e), st.lists(names, min_size=2, max_size=4, unique=True), with_several),
    st.builds(place, st.sampled_from(["N1", "N2", "B02"]), spots),
    st.builds(
        draw,
        st.sampled_from(["path", "stream", "permitted", "no_go"]),
        st.sampled_from(["58.3168 26.0495\n58.3172 26.0502\n58.317 26.051\n", "58.3168 26.0495\n"]),
        st.sampled_from(["", "east side"]),
    ),
    st.builds(draw, st.sampled_from(["gate", "tank", "hazard"]), spots, st.sampled_from(["", "by the road"])),
    st.builds(on_ground, st.integers(0, 11), st.just("remove")),
    st.builds(on_ground, st.integers(0, 11), st.just("edit"), st.sampled_from(["other", "another"])),
    st.builds(rule, st.just("return_after_years"), st.sampled_from(["3", "5", "6"])),
    st.builds(care, st.integers(0, 4)),
    st.builds(returns, st.sampled_from(["2.5", ""]), st.sampled_from(["3", "0.5"])),
    st.builds(bring, st.integers(1, 3)),
    st.builds(at_once, st.sampled_from(["undo", "undo", "redo", "survey.confirm_all"])),
)


@pytest.fixture
def whole(begin: Callable[..., Whole]) -> Whole:
    """Return one window for all examples."""
    return begin()


@settings(
    max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(st.lists(edits, min_size=1, max_size=6))
@example([place("N1", "58.3168 26.0495")])
def test_undoing_all_gives_the_first_rows(
    whole: Whole, alder_brook: Path, tmp_path: Path, sequence: list[Edit]
) -> None:
    path = tmp_path / "first.gpkg"
    shutil.copy(alder_brook, path)
    with sqlite3.connect(path) as db:
        db.execute("DELETE FROM event")  # what was done before this day is not to be taken back
    db.close()
    first = exact_rows(path)
    whole.open(path)
    try:
        assert whole.seen.undo_label is None
        with whole.qtbot.captureExceptions() as fallen:
            for edit in sequence:
                edit(whole)
            whole.to_front()
            whole.undo_all()
        assert fallen == []
        assert whole.faults == []
        assert exact_rows(path) == first
    finally:
        for dialog in whole.window.findChildren(RulesDialog):
            dialog.reject()  # one that is left open would hold up every example after it
        whole.desk.close_stand()
