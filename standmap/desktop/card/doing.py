"""What can be done with the chosen trees: at once, or through a form in the card."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from standmap.desktop.actions import Action
from standmap.desktop.card.correct_forms import (
    BelongsForm,
    GoneForm,
    MergeForm,
    MoveForm,
    RetagForm,
    RootForm,
    SpeciesForm,
)
from standmap.desktop.card.forms import Form
from standmap.desktop.card.record_forms import CareForm, CollectionForm, HoleForm, MeasureForm
from standmap.desktop.card.stem_picture import save_stem_picture
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.marking import mark_or_unmark, why_not
from standmap.desktop.words import said, tr
from standmap.jobs import correct
from standmap.jobs.moving_records import Single, single_records
from standmap.jobs.tree_facts import HoleFacts, holes_of
from standmap.stand.tree import Soundness, Standing, Tree
from standmap.store.stand_file import StandFile
from standmap.units_shown import UnitsShown

if TYPE_CHECKING:
    from standmap.desktop.card.tree_card import TreeCard

WRITE_DOWN = ("card.measure", "card.hole", "card.collection", "card.care")
CORRECT = (
    "card.confirm", "card.confirm_tag", "card.species", "card.sound", "card.unsound", "", "card.re_tag", "card.move",
    "card.belongs", "card.merge", "card.one_root", "card.own_root", "", "card.felled", "card.died",
)  # fmt: skip
"""Menus of one tree, in their order; an empty id parts two groups."""

FOR_SEVERAL = (
    "card.confirm",
    "card.confirm_tag",
    "card.species",
    "card.sound",
    "card.unsound",
    "card.one_root",
    "card.own_root",
)


def units_of(desk: Desk) -> UnitsShown:
    """Return the person's units."""
    return desk.units


def chosen_trees(desk: Desk) -> list[Tree]:
    """Return the chosen trees, in the order in which they were chosen."""
    seen = desk.seen
    # When a stand is read anew, a chosen tree may be gone a moment before it is let go.
    return [seen.trees[row] for row in seen.rows_of(desk.chosen)] if seen is not None else []


def actions(desk: Desk, card: TreeCard) -> list[Action]:
    """Return everything that can be done from the card."""

    def can(ask: Callable[[Tree], bool] = lambda _: True, *, several: bool = False) -> Callable[[], bool]:
        def answer() -> bool:
            trees = chosen_trees(desk)
            fits = len(trees) == 1 or (several and len(trees) > 1)
            return not desk.read_only and fits and any(ask(t) for t in trees)

        return answer

    def form(make: Callable[[Tree], Form]) -> Callable[[], None]:
        def show() -> None:
            trees = chosen_trees(desk)
            if len(trees) == 1:
                card.show_form(make(trees[0]))

        return show

    def species() -> None:
        trees = chosen_trees(desk)
        if trees:
            card.show_form(SpeciesForm(desk, trees))

    def at_once(write: Callable[[StandFile, list[str]], str], what: str, which: str = "") -> Callable[[], None]:
        """Return what writes one edit; `which` tells apart what goes by the same words."""

        def run() -> None:
            keys = list(desk.chosen)
            about = (what, which, tuple(keys))
            guard_of(desk).once(about, lambda file, _: write(file, keys), what, lambda told: desk.tell(said(told)))

        return run

    def confirm(file: StandFile, keys: list[str]) -> str:
        found = correct.confirm(file, keys, desk.now())
        return tr("confirmed: {trees}", trees=", ".join(t.name for t in found[:4]) + ("…" if len(found) > 4 else ""))

    def one_root() -> None:
        if len(desk.chosen) > 1:
            at_once(lambda f, keys: correct.share_rootstock(f, keys, desk.now()).text, tr("one rootstock"))()
        else:
            form(lambda t: RootForm(desk, t))()

    def sound(seen: Soundness) -> Callable[[], None]:
        return at_once(
            lambda f, keys: correct.set_soundness(f, keys, seen, desk.now()).text, tr("soundness"), str(seen)
        )

    def tapped(tree: Tree) -> bool:
        return desk.seen is not None and bool(desk.seen.stand.holes_of.get(tree.key))

    def singles(tree: Tree) -> tuple[Single, ...]:
        return single_records(desk.seen.stand, tree) if desk.seen is not None else ()

    def gone(title: str, write: Callable[..., correct.Corrected]) -> Callable[[], None]:
        return form(lambda t: GoneForm(desk, t, title, write))

    def holes(tree: Tree) -> tuple[HoleFacts, ...]:
        return holes_of(desk.seen.stand, tree) if desk.seen is not None else ()

    def stem() -> None:
        if card.facts is not None:
            save_stem_picture(desk, card, card.facts)

    return [
        Action(
            "card.mark",
            tr("mark or unmark for this season"),
            lambda: mark_or_unmark(desk),
            "Ctrl+M",
            enabled=lambda: not why_not(desk),
        ),
        Action(
            "card.measure",
            tr("measure..."),
            form(lambda t: MeasureForm(desk, t, units_of(desk), card.measured_at_mm)),
            "Ctrl+G",
            enabled=can(),
            words=tr("girth diameter"),
        ),
        Action(
            "card.hole",
            tr("a hole or slit was made..."),
            form(lambda t: HoleForm(desk, t, units_of(desk))),
            "Ctrl+H",
            enabled=can(),
            words=tr("tapped drilled"),
        ),
        Action(
            "card.collection",
            tr("sap was collected..."),
            form(lambda t: CollectionForm(desk, t, units_of(desk), holes(t))),
            "Ctrl+L",
            enabled=can(tapped),
            words=tr("litres"),
        ),
        Action(
            "card.care",
            tr("something was done at it..."),
            form(lambda t: CareForm(desk, t, holes(t))),
            enabled=can(),
            words=tr("taken out plugged looked at"),
        ),
        Action(
            "card.stem",
            tr("picture of the stem..."),
            stem,
            enabled=lambda: card.facts is not None and bool(card.facts.holes),
            words=tr("save print holes disc unrolled"),
        ),
        Action(
            "card.confirm",
            tr("confirm that it is a tree"),
            at_once(confirm, tr("confirming")),
            enabled=can(lambda t: t.proposed, several=True),
        ),
        Action(
            "card.confirm_tag",
            tr("the tag was read and is right"),
            at_once(lambda f, keys: correct.confirm_tag(f, keys, desk.now()).text, tr("confirming"), "tag"),
            enabled=can(lambda t: not t.tag_confirmed, several=True),
        ),
        Action("card.species", tr("say its species..."), species, enabled=can(several=True)),
        Action(
            "card.sound",
            tr("looked over: sound"),
            sound(Soundness.SOUND),
            enabled=can(lambda t: t.soundness is not Soundness.SOUND, several=True),
        ),
        Action(
            "card.unsound",
            tr("looked over: not sound"),
            sound(Soundness.UNSOUND),
            enabled=can(lambda t: t.soundness is not Soundness.UNSOUND, several=True),
        ),
        Action(
            "card.re_tag", tr("re-tag..."), form(lambda t: RetagForm(desk, t)), enabled=can(), words=tr("rename name")
        ),
        Action(
            "card.move",
            tr("move by coordinates..."),
            form(lambda t: MoveForm(desk, t)),
            enabled=can(),
            words=tr("position latitude longitude"),
        ),
        Action(
            "card.belongs",
            tr("a record belongs to another tree..."),
            form(lambda t: BelongsForm(desk, t, holes(t), singles(t))),
            enabled=can(lambda t: tapped(t) or bool(singles(t))),
            words=tr("hole girth diameter looked at wrong tree"),
        ),
        Action(
            "card.pictures",
            tr("look at its pictures"),
            card.show_picture,
            enabled=lambda: bool(card.pictures.media),
            words=tr("photograph"),
        ),
        Action(
            "card.merge",
            tr("the same as another tree..."),
            form(lambda t: MergeForm(desk, t)),
            enabled=can(),
            words=tr("merge twice"),
        ),
        Action("card.one_root", tr("one rootstock..."), one_root, enabled=can(several=True), words=tr("stems root")),
        Action(
            "card.own_root",
            tr("each on its own root"),
            at_once(lambda f, keys: correct.share_rootstock(f, keys, desk.now(), apart=True).text, tr("own root")),
            enabled=can(lambda t: t.rootstock is not None, several=True),
        ),
        Action(
            "card.felled",
            tr("it was felled..."),
            gone(tr("it was felled"), correct.fell),
            enabled=can(lambda t: t.standing is not Standing.FELLED),
        ),
        Action(
            "card.died",
            tr("it has died..."),
            gone(tr("it has died"), correct.died),
            enabled=can(lambda t: t.standing is not Standing.DEAD),
        ),
    ]
