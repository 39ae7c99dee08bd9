"""Giving each note and each picture to the tree of its stop: names, girths, what was seen; pictures are kept small."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone

import numpy as np

from standmap.formats.content import FoundPhoto, FoundTree
from standmap.jobs.bring_batch import Batch
from standmap.jobs.bring_clocks import Stay
from standmap.jobs.bring_items import Decision, Fate, Verb
from standmap.jobs.bring_moments import ALIKE, UNTOLD_SIGMA_M, NotePlan, Placed
from standmap.jobs.bring_reading import Reading, Thing
from standmap.jobs.bring_trees import Intake, Taken, give_to, take_tree
from standmap.jobs.keys import new_key
from standmap.jobs.matching import SAME_NAME_WITHIN_M
from standmap.jobs.positions import apart_m, xy
from standmap.messages import Messages
from standmap.stand.names import folded
from standmap.stand.records import Media
from standmap.stand.tree import LonLat, Standing, Tree
from standmap.stand.walks import StopState
from standmap.units import girth_of

PHOTO_TYPE = "image/jpeg"

SURELY_NEAR_M = 3.0
"""A picture without a walk is of a tree no further away than this, or than two standard deviations: an assumption."""

_GIVEN_BY_US = re.compile(r"P\d+")


@dataclass(frozen=True, slots=True, eq=False)
class TakenNote:
    """What became of a note, a waypoint that is one, or a picture.

    Attributes
    ----------
    tree
        The tree that it belongs to, as things are decided.
    at
        Where it is to be shown: its own place; where it is in doubt, that of the stop nearest in time.
    taken
        What came of it; absent where it was left out.
    walk, stop
        Items of the stop at which it was noted and of its walk, where these files bring them.
    """

    reading: Reading
    thing: Thing
    fate: Fate
    why: str
    default: Verb
    choices: tuple[Verb, ...]
    at: LonLat | None
    away_m: float | None
    tree: Tree | None
    taken: Taken | None
    walk: str | None = None
    stop: str | None = None


@dataclass(frozen=True, slots=True)
class NoteIntake:
    """What notes are taken in with.

    Attributes
    ----------
    decided
        Decision of an item, None where it goes as proposed.
    target
        The tree that an item is merged into.
    stop_tree
        The tree of a stop that these files bring, None where it was left out.
    shift_days
        Whole days by which the clock was stated to be ahead: the written days are wrong by as much.
    """

    batch: Batch
    plan: NotePlan
    messages: Messages
    decided: Callable[[str], Decision | None]
    target: Callable[[str, str], Tree]
    stop_tree: Callable[[str], Tree | None]
    intake: Callable[[Reading], Intake]
    shift_days: int = 0


def renameable(tree: Tree) -> bool:
    """Return whether a tree has no name but the one that it was given when a walk suggested it."""
    return tree.proposed and _GIVEN_BY_US.fullmatch(tree.name) is not None


def noted_name(plan: NotePlan, stop_id: str, decided: Callable[[str], Decision | None]) -> str | None:
    """Return the name that was noted first at a stop, of those notes that stay there."""
    for placed in plan.at_stop(stop_id):
        decision = decided(placed.noted.thing.id)
        tree = placed.noted.tree
        if tree is not None and tree.name and (decision is None or decision.verb is Verb.ACCEPT):
            return tree.name
    return None


def noted_girth(plan: NotePlan, stop_id: str, decided: Callable[[str], Decision | None]) -> float | None:
    """Return the girth in millimetres that was noted first at a stop, of those notes that stay there."""
    for placed in plan.at_stop(stop_id):
        decision, tree = decided(placed.noted.thing.id), placed.noted.tree
        for measured in tree.measurements if tree is not None else ():
            if decision is None or decision.verb is Verb.ACCEPT:
                through = measured.diameter_mm
                return measured.girth_mm if through is None else girth_of(through)
    return None


def take_notes(intake: NoteIntake, things: Sequence[tuple[Reading, Thing]]) -> list[TakenNote]:
    """Take notes and pictures in, in the order of the files."""
    taker = _NoteTaker(intake)
    return [taker.take(reading, thing) for reading, thing in things]


class _NoteTaker:
    def __init__(self, intake: NoteIntake) -> None:
        self._in = intake
        self._batch = intake.batch

    def take(self, reading: Reading, thing: Thing) -> TakenNote:
        placed = self._in.plan.placed.get(thing.id)
        tree, fate, why = self._belongs(placed)
        # What was noted at a stop whose tree is asked goes where that stop will go.
        follows = tree is None and placed is not None and placed.stay is not None
        default = Verb.IGNORE if fate is Fate.DOUBTFUL and not follows else Verb.ACCEPT
        choices: tuple[Verb, ...] = (Verb.MERGE, Verb.IGNORE)
        if isinstance(thing.found, FoundTree):
            choices = (Verb.SPLIT, *choices)
        if tree is not None or follows:
            choices = (Verb.ACCEPT, *choices)
        decision = self._in.decided(thing.id) or Decision(default)
        taken: Taken | None = None
        if decision.verb is Verb.MERGE:
            tree = self._in.target(thing.id, decision.into or "")
            taken = self._give(reading, thing, placed, tree, named=False)
        elif decision.verb is Verb.SPLIT and isinstance(thing.found, FoundTree):
            taken = take_tree(self._in.intake(reading), thing.id, thing.found, apart=True)
        elif decision.verb is Verb.ACCEPT and tree is not None:
            taken = self._give(reading, thing, placed, tree, named=fate is not Fate.DOUBTFUL)
        if taken is not None and taken.what == "refused":
            fate, why = Fate.REFUSED, taken.why
        tree = tree if taken is None or taken.tree is None else self._batch.trees.tree(taken.tree.key)
        at = self._shown_at(thing, placed, fate)
        away = (
            None if tree is None or at is None or self._batch.frame is None else apart_m(self._batch.frame, tree.at, at)
        )
        stay = placed.stay if placed is not None and placed.stay is not None and placed.stay.row is None else None
        walk, stop = (None, None) if stay is None else (stay.walk_id, stay.id)
        return TakenNote(reading, thing, fate, why, default, choices, at, away, tree, taken, walk, stop)

    def _shown_at(self, thing: Thing, placed: Placed | None, fate: Fate) -> LonLat | None:
        own: LonLat | None = getattr(thing.found, "at", None)
        if own is not None or placed is None or fate is not Fate.DOUBTFUL:
            return own
        stay = placed.stay if placed.stay is not None else placed.near[0] if placed.near is not None else None
        return None if stay is None else stay.at

    # Which tree

    def _belongs(self, placed: Placed | None) -> tuple[Tree | None, Fate, str]:
        """Return the tree of a noted thing, and how sure that is."""
        if placed is None:
            return None, Fate.DOUBTFUL, "there is no walk to tell where it was noted"
        name = placed.noted.tree.name if placed.noted.tree is not None else None
        stay = placed.stay
        at_stop = None if stay is None else self._tree_of(stay)
        if name is not None and not (at_stop is not None and folded(at_stop.name) == folded(name)):
            called = self._called(name, stay)
            if called is not None:
                return called, Fate.MATCHED, ""
            if at_stop is not None and not renameable(at_stop):
                self._in.messages.caution(f"{name} was noted at the stop at {at_stop.name}: two trees at one stop?")
                return at_stop, Fate.DOUBTFUL, f"it says {name}, and its stop is at {at_stop.name}"
        if at_stop is not None:
            return at_stop, Fate.MATCHED, ""
        if stay is not None:
            return None, Fate.DOUBTFUL, "the tree of its stop is not decided"
        if placed.noted.tree is None and placed.noted.at is not None:
            found = self._tree_at(placed.noted.at, placed.noted.sigma_m or UNTOLD_SIGMA_M)
            if found is not None:
                return found, Fate.MATCHED, ""
        return None, Fate.DOUBTFUL, self._why_nowhere(placed)

    def _tree_of(self, stay: Stay) -> Tree | None:
        """Return the tree of a stop as it is by now."""
        if stay.row is None:
            tree = self._in.stop_tree(stay.id)
        elif stay.row.tree_key is None or stay.row.state is StopState.IGNORED:
            tree = None
        else:
            tree = self._batch.trees.tree(stay.row.tree_key)
        while tree is not None and tree.merged_into is not None:
            tree = self._batch.trees.tree(tree.merged_into)
        return None if tree is None else self._batch.trees.tree(tree.key)

    def _called(self, name: str, stay: Stay | None) -> Tree | None:
        """Return the one tree of a name, near the stop where there is one."""
        named = [t for t in self._batch.trees.called(name) if t.standing is not Standing.MERGED]
        if stay is None or self._batch.frame is None:
            return named[0] if len(named) == 1 else None
        reach = SAME_NAME_WITHIN_M + 3 * stay.variance_m2**0.5
        near = [t for t in named if apart_m(self._batch.frame, t.at, stay.at) <= reach]
        return near[0] if len(near) == 1 else None

    def _tree_at(self, at: LonLat, sigma_m: float) -> Tree | None:
        """Return the tree that alone can be meant by a place."""
        frame = self._batch.frame
        if frame is None:
            return None
        gathered = self._batch.trees
        trees = [*gathered.new_trees.values(), *gathered.stand.present]
        here = xy(frame, [at])[0]
        away = np.hypot(*(xy(frame, [t.at for t in trees]) - here).T)
        away[np.isnan(away)] = np.inf
        order = np.argsort(away, kind="stable")[:2]
        if not len(order) or away[order[0]] > max(SURELY_NEAR_M, 2 * sigma_m):
            return None
        if len(order) == 2 and away[order[1]] ** 2 - away[order[0]] ** 2 < ALIKE * sigma_m**2:
            return None
        return gathered.tree(trees[int(order[0])].key)

    def _why_nowhere(self, placed: Placed) -> str:
        from standmap.survey.clock import duration_words

        moment = placed.noted.true_s
        if moment is None:
            return "it tells no time" if placed.noted.at is None else "it tells no time, and no one tree stands there"
        if not self._in.plan.walks:
            return "there is no walk to tell where it was noted"
        begin, end = min(self._in.plan.walks, key=lambda w: max(w[0] - moment, moment - w[1]))
        if moment < begin:
            return f"noted {duration_words(begin - moment)} before the walk began"
        if moment > end:
            return f"noted {duration_words(moment - end)} after the walk ended"
        if placed.near is None:
            return "there is no stop in the walk of that time"
        stay, after = placed.near
        tree = self._tree_of(stay)
        stop = "a stop" if tree is None else f"the stop at {tree.name}"
        if after == 0:
            return f"its position is {placed.away_m or 0:.0f} m from {stop}, the one of its time"
        apart = duration_words(abs(after))
        return f"noted {apart} after {stop}" if after > 0 else f"noted {apart} before {stop}"

    # What it brings

    def _give(self, reading: Reading, thing: Thing, placed: Placed | None, tree: Tree, *, named: bool) -> Taken:
        found = thing.found
        if isinstance(found, FoundPhoto):
            self._keep(reading, found, placed, tree)
            return Taken("added", tree)
        said = found if isinstance(found, FoundTree) else getattr(found, "tree", None)
        assert isinstance(said, FoundTree)  # noqa: S101 - notes are about trees
        renamed = False
        if named and said.name is not None and folded(said.name) != folded(tree.name) and renameable(tree):
            tree = self._batch.trees.rename(tree, said.name)
            renamed = True
        confirmed = bool(said.name and folded(said.name) == folded(tree.name)) or bool(said.measurements)
        shift = timedelta(days=self._in.shift_days)
        dated = tuple(
            m if m.measured_on is None else replace(m, measured_on=m.measured_on - shift) for m in said.measurements
        )
        # Whoever measures a tree or reads its name has seen that there is one.
        told = replace(said, at=None, name=None, key=None, measurements=dated, proposed=False if confirmed else None)
        taken = give_to(self._in.intake(reading), tree, told)
        return replace(taken, what="updated") if renamed and taken.what == "same" else taken

    def _keep(self, reading: Reading, found: FoundPhoto, placed: Placed | None, tree: Tree) -> None:
        taken_at = None
        if placed is not None and placed.noted.true_s is not None:
            zone = timezone(timedelta(seconds=placed.noted.zone_s)) if placed.noted.zone_s else UTC
            taken_at = datetime.fromtimestamp(round(placed.noted.true_s), zone)
        self._batch.media.append(
            Media(
                key=new_key(),
                tree_key=tree.key,
                file_name=found.file_name,
                media_type=PHOTO_TYPE,
                content=found.content,
                taken_at=taken_at,
                source_key=reading.source.key,
            )
        )
