"""Forms that put right what was written down wrongly; the correction itself is kept as history."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime

from PySide6.QtWidgets import QCheckBox

from standmap.desktop.card import typed
from standmap.desktop.card.forms import Choice, Form, Job
from standmap.desktop.card.wording import hole_name, single_name
from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import Field
from standmap.desktop.words import said, tr
from standmap.errors import NothingToDo, UserError
from standmap.jobs import correct
from standmap.jobs.moving_records import Single, move_single
from standmap.jobs.names import checked_name, free_tree_name
from standmap.jobs.tree_facts import HoleFacts
from standmap.jobs.trees_by_hand import DoubtfulPositionError, move_tree
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile


class BelongsForm(Form):
    """A record belongs to another tree: a hole with all that came of it, a measurement, or what was seen."""

    def __init__(self, desk: Desk, tree: Tree, holes: Sequence[HoleFacts], singles: Sequence[Single]) -> None:
        title = tr("this belongs to another tree")
        about = tr("the hole moves with all that was collected from it and done to it") if holes else ""
        super().__init__(desk, title, about)
        self._tree = tree
        options: list[tuple[str, HoleFacts | Single]] = [(hole_name(hole), hole) for hole in holes]
        options += [(single_name(one, desk.units), one) for one in singles]
        self.record = Choice(tr("which record"), options)
        self.to = _tree_field(desk, tree, tr("the tree that it belongs to"))
        self.choose(self.record)
        self.ask(self.to)

    def job(self) -> Job:
        """Move the record."""
        to, one = self.to.value(), self.record.value()
        assert to is not None  # noqa: S101 - it was right a moment ago
        key, on, now = self._tree.key, self.desk.today, self.desk.now()
        if isinstance(one, HoleFacts):
            return _told(lambda file: correct.move_record(file, key, to.key, one.season, one.number, on, now))
        return _told(lambda file: move_single(file, key, to.key, one.key, on, now))


class GoneForm(Form):
    """The tree was felled, or has died."""

    def __init__(
        self, desk: Desk, tree: Tree, title: str, write: Callable[[StandFile, str, date, datetime], correct.Corrected]
    ) -> None:
        super().__init__(desk, title, tr("it stays on the map, and its history with it"))
        self._tree, self._write = tree, write
        self.on = Field(tr("day"), lambda text: typed.day(text, desk.today), text=desk.today.isoformat())
        self.ask(self.on)

    def job(self) -> Job:
        """Note it."""
        on = self.on.value()
        assert on is not None  # noqa: S101 - it was right a moment ago
        write, key, now = self._write, self._tree.key, self.desk.now()
        return _told(lambda file: write(file, key, on, now))


class RetagForm(Form):
    """The tag says something else now."""

    def __init__(self, desk: Desk, tree: Tree) -> None:
        super().__init__(desk, tr("re-tag {tree}", tree=tree.name), tr("the old name stays in its history"))
        self._tree = tree
        self.name = Field(tr("what the tag says now"), lambda text: free_tree_name(_stand(desk), text, but=tree.key))
        self.ask(self.name)

    def job(self) -> Job:
        """Give it the name."""
        name = self.name.value() or ""
        key, on, now = self._tree.key, self.desk.today, self.desk.now()
        return _told(lambda file: correct.retag(file, key, name, on, now))


class MergeForm(Form):
    """Two entries are one tree."""

    def __init__(self, desk: Desk, tree: Tree) -> None:
        super().__init__(
            desk,
            tr("{tree} is another tree's second entry", tree=tree.name),
            tr("all its records go to the other one; this entry stays in the file and points there"),
        )
        self._tree = tree
        self._left_key = ""
        self.into = _tree_field(desk, tree, tr("the tree that it really is"))
        self.ask(self.into)

    def job(self) -> Job:
        """Merge them."""
        into = self.into.value()
        assert into is not None  # noqa: S101 - it was right a moment ago
        key, on, now = self._tree.key, self.desk.today, self.desk.now()
        self._left_key = into.key
        return _told(lambda file: correct.merge(file, key, into.key, on, now))

    def written(self) -> None:
        """Show the tree that is left, unless another one was chosen meanwhile."""
        if not self.away or not self.desk.chosen:
            self.desk.choose([self._left_key])


class RootForm(Form):
    """Stems grow from one root, and rest together."""

    def __init__(self, desk: Desk, tree: Tree) -> None:
        super().__init__(desk, tr("stems of one rootstock"), tr("stems of one root rest together"))
        self._tree = tree
        self.stems = Field(
            tr("the other stems"), lambda text: typed.other_trees(text, _stand(desk), tree), hint=tr("such as B28, B29")
        )
        self.ask(self.stems)

    def job(self) -> Job:
        """Note the common root."""
        keys = [self._tree.key, *(t.key for t in self.stems.value() or ())]
        now = self.desk.now()
        return _told(lambda file: correct.share_rootstock(file, keys, now))


class SpeciesForm(Form):
    """What a tree is, or what several are."""

    def __init__(self, desk: Desk, trees: Sequence[Tree]) -> None:
        title = (
            tr("species of {tree}", tree=trees[0].name) if len(trees) == 1 else tr("species of {n} trees", n=len(trees))
        )
        super().__init__(desk, title)
        self._keys = [t.key for t in trees]
        held = {t.species or "" for t in trees}
        text = held.pop() if len(held) == 1 else ""
        self.species = Field(
            tr("species"), lambda t: checked_name(t, "species"), text=text, hint=tr("such as Betula pendula")
        )
        self.ask(self.species)

    def job(self) -> Job:
        """Note the species."""
        keys, species, now = self._keys, self.species.value() or "", self.desk.now()
        return _told(lambda file: correct.set_species(file, keys, species, now))


class MoveForm(Form):
    """The tree stands elsewhere: moved on purpose, by typed coordinates."""

    def __init__(self, desk: Desk, tree: Tree) -> None:
        super().__init__(
            desk, tr("move {tree}", tree=tree.name), tr("no later walk moves it; the old position stays in its history")
        )
        self._tree = tree
        self.epsg = Field(tr("EPSG code of a grid"), typed.epsg_code, hint=tr("empty for degrees"))
        self.position = Field(
            tr("latitude and longitude, or easting and northing"),
            lambda text: typed.position(text, self.epsg.text()),
            text=f"{tree.at[1]:.7f} {tree.at[0]:.7f}",
            hint="60.1699 24.9384",
        )
        self.sure = QCheckBox(tr("I am sure: put it there"))
        self.sure.hide()
        self.ask(self.position)
        self.ask(self.epsg)
        self.put(self.sure)
        self.position.changed.connect(self._not_sure)
        self.epsg.changed.connect(self._not_sure)

    def job(self) -> Job:
        """Move it."""
        at = self.position.value()
        assert at is not None  # noqa: S101 - it was right a moment ago
        key, sure, on, now = self._tree.key, self.sure.isChecked(), self.desk.today, self.desk.now()

        def write(file: StandFile, watch: object) -> str:
            del watch
            moved = move_tree(file, key, at, on, now, sure=sure)
            return tr("{tree} was moved", tree=moved.name)

        return write

    def refused(self, error: UserError | NothingToDo) -> None:
        """Say it beside the position; one that is only unlikely may be meant."""
        self.position.say(wording(error))
        self.position.edit.setFocus()
        if isinstance(error, DoubtfulPositionError):
            self.sure.show()

    def _not_sure(self) -> None:
        self.sure.setChecked(False)
        self.sure.hide()


def _stand(desk: Desk) -> Stand:
    return desk.seen.stand if desk.seen is not None else Stand()


def _tree_field(desk: Desk, tree: Tree, name: str) -> Field[Tree]:
    return Field(name, lambda text: typed.other_tree(text, _stand(desk), tree), hint=tr("its name"))


def _told(write: Callable[[StandFile], correct.Corrected]) -> Job:
    return lambda file, _: said(write(file).text)
