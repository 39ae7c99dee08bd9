"""Sights by tape and compass written down by hand: looked at while they are typed, added, listed and removed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.formats.content import Findings, FoundSight
from standmap.jobs.anchors import anchors
from standmap.jobs.bring_batch import Batch
from standmap.jobs.bring_items import Fate
from standmap.jobs.bring_reading import Reading, Thing
from standmap.jobs.bring_sights import SightIntake, TakenSight, take_sights
from standmap.jobs.matching import Gathered
from standmap.jobs.opening import FRAME_SETTING, working_frame
from standmap.messages import Collected, Messages, Silence
from standmap.stand.ground import Place
from standmap.stand.records import Source
from standmap.stand.sights import Sight, TakenPosition
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop
from standmap.store.stand_file import StandFile

_BY_HAND = Source("", "by hand", "", "field sheet", 0, datetime(1970, 1, 1, tzinfo=UTC))


class DoubtfulSightError(UserError):
    """A sight that can hardly be right; a person may say that it is."""


@dataclass(frozen=True, slots=True, eq=False)
class Looked:
    """What sights would bring to a stand.

    Attributes
    ----------
    taken
        What would become of each, in their order.
    trees, places
        The new ones.
    """

    taken: tuple[TakenSight, ...]
    batch: Batch

    @property
    def trees(self) -> tuple[Tree, ...]:
        """New trees."""
        return tuple(self.batch.trees.new_trees.values())

    @property
    def places(self) -> tuple[Place, ...]:
        """New stations."""
        return tuple(p for p in self.batch.new_ground.values() if isinstance(p, Place))


@dataclass(frozen=True, slots=True)
class NamedSight:
    """A sight with the names of its points."""

    sight: Sight
    from_name: str
    to_name: str
    toward_name: str | None


def look_at_sights(
    stand: Stand,
    known: Sequence[Sight],
    rows: Sequence[FoundSight],
    today: date,
    *,
    anyway: bool = False,
    messages: Messages | None = None,
) -> Looked:
    """Work out what sights would bring, and how those close that come back to a point. Nothing is written.

    Parameters
    ----------
    known
        The sights of the stand.
    anyway
        Whether a person has said that those which look wrong are meant.
    """
    batch = Batch(Gathered(stand), working_frame(stand), ())
    things = tuple(Thing(f"1:{number}", row) for number, row in enumerate(rows, start=1))
    reading = Reading(1, Path(_BY_HAND.file_name), _BY_HAND, Findings("field sheet", len(rows)), things)
    intake = SightIntake(
        batch,
        known,
        today,
        messages or Silence(),
        anyway=anyway,
        decided=lambda _: None,
        target=_no_target,
        closings=True,
    )
    return Looked(tuple(take_sights(intake, [(reading, thing) for thing in things])), batch)


def _no_target(item_id: str, into: str) -> Tree:
    raise UserError(f"{item_id}: nothing is merged into '{into}' here", "name the tree itself")


def add_sights(
    file: StandFile,
    rows: Sequence[FoundSight],
    today: date,
    now: datetime,
    *,
    anyway: bool = False,
    messages: Messages | None = None,
) -> Looked:
    """Write sights down, and put on the map what they lead to: all of them as one edit, or none.

    Raises
    ------
    UserError
        If one cannot be used; `DoubtfulSightError` where one only looks wrong.
    NothingToDo
        If there is none, or all of them are written down already.
    """
    if not rows:
        raise NothingToDo("there is no sight to write down")
    stand, heard = file.stand(), Collected()
    looked = look_at_sights(stand, file.rows(Sight), rows, today, anyway=anyway, messages=heard)
    for taken in looked.taken:
        if taken.fate is Fate.REFUSED:
            raise UserError(f"{taken.name}: {taken.why}", "nothing was written")
        if taken.left_out:
            raise DoubtfulSightError(f"{taken.name}: {taken.why}", "look at it again, or say that it is meant")
    new = [taken.row for taken in looked.taken if taken.row is not None]
    if not any(taken.new for taken in looked.taken):
        raise NothingToDo("these sights are written down already")
    batch = looked.batch
    names = ", ".join(taken.name for taken in looked.taken[:3])
    label = f"sight {names}" if len(rows) <= 3 else f"{len(rows)} sights ({names} ...)"
    with file.writing(label, now) as writing:
        if batch.frame is not None and FRAME_SETTING not in stand.settings:
            writing.set_setting(FRAME_SETTING, {"lon0": batch.frame.lon0, "lat0": batch.frame.lat0})
        writing.insert_many(looked.trees)
        writing.insert_many(looked.places)
        writing.insert_many(new)
        points: list[Tree | Place] = [*stand.trees, *stand.places]
        writing.insert_many(anchors(points, file.rows(Stop), file.rows(TakenPosition), new))
        writing.insert_many([replace(m, source_key=None) for m in batch.trees.records.measurements])
        for tree in batch.trees.changed_trees.values():
            writing.replace(tree)
    messages = messages or Silence()
    for text in heard.told:
        messages.tell(text)
    for text in heard.cautions:
        messages.caution(text)
    return looked


def sights_of(file: StandFile) -> tuple[NamedSight, ...]:
    """Return the sights of a stand in the order in which they were written down, with the names of their points."""
    stand = file.stand()
    names = {**{p.key: p.name for p in stand.places}, **{t.key: t.name for t in stand.trees}}

    def name(key: str) -> str:
        return names.get(key, key)

    return tuple(
        NamedSight(s, name(s.from_key), name(s.to_key), None if s.toward_key is None else name(s.toward_key))
        for s in file.rows(Sight)
    )


def remove_sights(file: StandFile, which: Sequence[str], now: datetime) -> tuple[NamedSight, ...]:
    """Take sights out, by their number in `sights_of` (from 1) or their id; what they placed stays where it stands.

    Raises
    ------
    UserError
        If one is not there.
    """
    sights = sights_of(file)
    by_id = {**{str(n): s for n, s in enumerate(sights, start=1)}, **{s.sight.key: s for s in sights}}
    wanted: dict[str, NamedSight] = {}
    for text in which:
        found = by_id.get(text.strip())
        if found is None:
            raise UserError(f"there is no sight '{text[:40]}'", "use a number or an id of 'standmap sight FILE --list'")
        wanted[found.sight.key] = found
    if not wanted:
        raise NothingToDo("no sight is named")
    gone = tuple(wanted.values())
    names = ", ".join(f"{s.from_name} → {s.to_name}" for s in gone[:3])
    with file.writing(f"remove sight {names}{' ...' if len(gone) > 3 else ''}", now) as writing:
        for named in gone:
            writing.delete(named.sight)
    return gone
