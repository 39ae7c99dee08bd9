"""What wounds need next as a list on paper to take along: what is overdue first, a box to tick for each, and a map."""

from __future__ import annotations

from collections.abc import Sequence

from standmap.aftercare.peg import PEG_SOURCE
from standmap.errors import NothingToDo, UserError
from standmap.formats.paper import paper_of
from standmap.formats.paper_type import isolated
from standmap.formats.walk_sheet import walk_sheet
from standmap.formats.walk_sheet_values import (
    Block,
    Cell,
    Column,
    Fill,
    North,
    SheetPart,
    SheetStop,
    SheetTrip,
    Sign,
    WalkSheet,
)
from standmap.jobs.aftercare import Due, StandCare, cautions_for, others_on_plugging, plugging_told
from standmap.jobs.aftercare_words import TO_DO, Head, Word
from standmap.jobs.cautions import WALKING
from standmap.jobs.walk_paper import PaperOptions
from standmap.jobs.walk_paper_ground import Flat, ground_round, signs_of
from standmap.jobs.walk_paper_rows import SIDES
from standmap.jobs.walk_paper_texts import emergency, gate_near
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act
from standmap.survey.north import declination, wording

_COLUMNS = (
    (Head.ENTRY, 12, Fill.TEXT), (Head.TREE, 26, Fill.TEXT), (Head.WOUND, 32, Fill.TEXT), (Head.TO_DO, 57, Fill.TEXT),
    (Head.DUE, 21, Fill.TEXT), (Head.DONE, 9, Fill.TICK), (Head.DAY, 13, Fill.WRITE), (Head.NOTE, 16, Fill.WRITE),
)  # fmt: skip


def care_paper(care: StandCare, stand: Stand, name: str, options: PaperOptions | None = None) -> bytes:
    """Return the list of what is due as PDF.

    Parameters
    ----------
    name
        What the stand is called: the name of its file.
    options
        As from `paper_options`, or with the window's own `said`; English, metric and A4 when absent.

    Raises
    ------
    NothingToDo
        If nothing is due.
    UserError
        If the paper is not known.
    """
    options = options or PaperOptions()
    paper = paper_of(options.paper)
    if not care.due:
        raise NothingToDo(care.why_nothing)
    sheet = _Listing(care, stand, name, options).sheet()
    return walk_sheet(sheet, paper, options.units, lambda n, count: options.say(f"page {n} of {count}"))


class _Listing:
    """Says everything that stands on the sheet."""

    def __init__(self, care: StandCare, stand: Stand, name: str, options: PaperOptions) -> None:
        self._care, self._stand = care, stand
        self._name = isolated(" ".join(name.split()))
        self._say, self._units = options.say, options.units
        self._start = care.due[0].tree.at
        self._flat = Flat.about(stand, self._start)

    def sheet(self) -> WalkSheet:
        """Return the whole sheet."""
        say, care = self._say, self._care
        title = f"{self._name}: {say(Word.AFTERCARE.value)}"
        foot = f"{self._name} · {say(Word.AFTERCARE.value)} · {say(care.day.isoformat())}"
        ground = ground_round(self._stand, {due.tree.key for due in care.due}, self._flat)
        gate = gate_near(self._stand, self._start)
        met, at = (gate.name, gate.at) if gate is not None else (care.due[0].tree.name, self._start)
        cautions = (*cautions_for(care)[:-1], *WALKING[:2], cautions_for(care)[-1])
        return WalkSheet(
            title=foot,
            parts=(SheetPart(title, foot, self._facts(), self._groups()),),
            columns=tuple(Column(say(head.value), wide, fill) for head, wide, fill in _COLUMNS),
            ground=ground,
            north=self._north(),
            emergency=emergency(met, at, say),
            cautions=Block(say("take care"), tuple(map(self._told, cautions))),
            at_each_stop=Block("", ()),
            last=self._last(),
            legend={
                Sign.STOP: say("a tree and its numbers in the list"),
                **{sign: say(str(sign)) for sign in signs_of(ground)},
                **({Sign.TREE: say("another tree")} if ground.trees else {}),
            },
            scale_note=say("when printed at 100 %"),
        )

    def _told(self, sentence: str) -> str:
        return self._units.in_sentence(self._say(sentence))

    def _facts(self) -> tuple[tuple[str, str], ...]:
        say, care = self._say, self._care
        trees = len({due.tree.key for due in care.due})
        wounds = "1 wound" if len(care.due) == 1 else f"{len(care.due)} wounds"
        return (
            (say("day"), say(care.day.isoformat())),
            (say("in all"), f"{say(wounds)}, {say('1 tree' if trees == 1 else f'{trees} trees')}"),
            (say("rules"), self._told(plugging_told(care.rules))),
        )

    def _groups(self) -> tuple[SheetTrip, ...]:
        """Return what is overdue, then what is due by the day, then what is due later; numbered through."""
        care = self._care
        overdue = [due for due in care.due if due.need.overdue]
        later = [due for due in care.due if due.need.due_on > care.day]
        today = [due for due in care.due if not due.need.overdue and due.need.due_on <= care.day]
        named = ((Word.OVERDUE, overdue), (Word.DUE_TODAY, today), (Word.DUE_LATER, later))
        groups, number = [], 0
        for head, dues in named:
            if dues:
                groups.append(self._group(head, dues, number))
                number += len(dues)
        return tuple(groups)

    def _group(self, head: Word, dues: Sequence[Due], before: int) -> SheetTrip:
        stops = tuple(
            SheetStop(number, self._flat.spot(due.tree.at), self._cells(number, due))
            for number, due in enumerate(dues, start=before + 1)
        )
        return SheetTrip(f"{self._say(head.value)}: {len(dues)}", "", (), stops)

    def _cells(self, number: int, due: Due) -> tuple[Cell, ...]:
        say, hole, need = self._say, due.hole, due.need
        where = []
        if hole.height_mm is not None:
            where.append(say(f"{self._units.height(hole.height_mm)} up"))
        if hole.side_deg is not None:
            where.append(f"{say(SIDES[round(hole.side_deg / 45) % 8])} ({hole.side_deg:.0f}°)")
        late = (self._care.day - need.due_on).days
        overdue = (say("1 day late" if late == 1 else f"{late} days late"),) if need.overdue else ()
        peg = () if due.peg is None else (self._told(due.peg.told),)
        seen = (say(str(Act.SEEN_CLOSED)), say(str(Act.SEEN_OPEN))) if need.what is Act.LOOKED_AT else ()
        wound = say(f"{hole.kind} {hole.number} of {hole.season}")
        return (
            Cell(str(number), strong=True),
            Cell(isolated(due.tree.name), strong=True),
            Cell(wound, fine=(", ".join(where),) if where else ()),
            Cell(say(TO_DO[need.what]), ticks=seen, fine=(*peg, self._told(need.why))),
            Cell(say(need.due_on.isoformat()), strong=need.overdue, fine=overdue),
            Cell(),
            Cell(),
            Cell(),
        )

    def _last(self) -> tuple[Block, ...]:
        say, care = self._say, self._care
        sources = dict.fromkeys(
            f"{say(TO_DO[due.need.what])}: {say(due.need.rule)} · {say(due.need.source)}" for due in care.due
        )
        pegs = any(due.peg is not None for due in care.due)
        return (
            Block(
                say("what the figures rest on"),
                (*sources, *([f"{say(Word.PEGS.value)}: {say(PEG_SOURCE)}"] if pegs else ())),
            ),
            Block(
                say("published rules disagree on plugging"),
                tuple(f"{self._told(what)} ({say(source)})" for what, source in others_on_plugging(care.rules)),
            ),
        )

    def _north(self) -> North:
        letter = self._say("N")
        try:
            found = declination(*self._start, self._care.day)
        except UserError as error:
            return North(letter, None, self._say(error.what))
        return North(letter, found.deg, self._say(wording(found)))
