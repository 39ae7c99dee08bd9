"""Forms that write down what was measured, drilled, collected and done at one tree."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from standmap.desktop.card import typed
from standmap.desktop.card.forms import Choice, Form, Job
from standmap.desktop.card.wording import hole_name
from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, source_line
from standmap.desktop.words import said, tr
from standmap.desktop.working import Watch
from standmap.formats.quantities import Thickness
from standmap.formats.records_csv import COLLECTED, SLIT, TAPPED, FoundRecord
from standmap.jobs.cautions import TAPPING
from standmap.jobs.measure import measure
from standmap.jobs.names import checked_note
from standmap.jobs.record import record
from standmap.jobs.tree_facts import HoleFacts
from standmap.stand.tapping import Act
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile
from standmap.units_shown import UnitsShown

CARE = (
    Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN, Act.TRIMMED, Act.SEEN_CLOSED, Act.SEEN_OPEN, Act.LOOKED_AT,
)  # fmt: skip


class MeasureForm(Form):
    """A girth or a diameter."""

    def __init__(self, desk: Desk, tree: Tree, units: UnitsShown, at_height_mm: float) -> None:
        height = units.height(at_height_mm)
        super().__init__(desk, tr("measure {tree}", tree=tree.name), tr("at {height} above ground", height=height))
        self._tree, self._at_height_mm = tree, at_height_mm
        self.what = Choice(tr("what"), [(tr("girth"), Thickness.GIRTH), (tr("diameter"), Thickness.DIAMETER)])
        self.thickness = Field(
            tr("size in {unit}, or with its unit", unit=units.girth_unit),
            lambda text: typed.thickness_as_given(text, units, self.what.value()),
        )
        self.on = _day_field(desk)
        self.choose(self.what)
        self.ask(self.thickness)
        self.ask(self.on)
        self.what.changed.connect(self.thickness.check)

    def job(self) -> Job:
        """Write one measurement."""
        given, on = self.thickness.value(), self.on.value()
        assert given is not None and on is not None  # noqa: S101, PT018 - both were right a moment ago
        what: Thickness = self.what.value()
        key, height, today, now = self._tree.key, self._at_height_mm, self.desk.today, self.desk.now()

        def write(file: StandFile, watch: Watch) -> str:
            row = measure(file, key, what, *given, on, today, now, at_height_mm=height, messages=watch)
            return tr("written down: {size} {unit}", size=row.given, unit=row.given_unit)

        return write


class HoleForm(Form):
    """A hole or a slit that was made."""

    def __init__(self, desk: Desk, tree: Tree, units: UnitsShown) -> None:
        super().__init__(desk, tr("hole in {tree}", tree=tree.name))
        self._tree = tree
        self.kind = Choice(tr("what was made"), [(tr("hole"), TAPPED), (tr("slit"), SLIT)])
        self.on = _day_field(desk)
        self.side = Field(tr("side of the stem"), typed.side_deg, hint=tr("degrees, or SW"))
        self.height_up = Field(tr("height on the stem"), lambda text: typed.height_mm(text, units))
        self.depth_in = Field(tr("depth in the wood"), lambda text: typed.depth_mm(text, units))
        self.bit = Field(tr("width of the bit"), lambda text: typed.bit_mm(text, units))
        self.note = _note_field()
        for field, show in ((self.height_up, units.height), (self.depth_in, units.depth), (self.bit, units.depth)):
            unit = show(10).split(" ")[-1]
            field.edit.setPlaceholderText(tr("{unit}, if known", unit=unit))
        self.choose(self.kind)
        self.ask(self.on)
        self.ask(self.side, self.height_up)
        self.ask(self.depth_in, self.bit)
        self.ask(self.note)
        self.put(source_line(said(TAPPING[0])))

    def job(self) -> Job:
        """Write one wound."""
        on = self.on.value()
        assert on is not None  # noqa: S101 - it was right a moment ago
        row = FoundRecord(
            line=0,
            tree=self._tree.key,
            hole=None,
            on=on,
            at=None,
            what=self.kind.value(),
            height_mm=self.height_up.value(),
            side_deg=self.side.value(),
            depth_mm=self.depth_in.value(),
            bit_mm=self.bit.value(),
            note=self.note.value() or "",
        )
        return _recording(self.desk, row, tr("written down"))


class CollectionForm(Form):
    """Sap that was collected."""

    def __init__(self, desk: Desk, tree: Tree, units: UnitsShown, holes: Sequence[HoleFacts]) -> None:
        super().__init__(desk, tr("sap from {tree}", tree=tree.name))
        self._tree = tree
        self.hole = _hole_choice(holes) if len(holes) > 1 else None
        self.volume = Field(
            tr("how much, in {unit}, or with its unit", unit=units.volume_unit),
            lambda text: typed.volume(text, units),
        )
        self.on = _day_field(desk)
        self.at = Field(tr("time of day"), typed.clock, hint=tr("such as 7:30"))
        self.note = _note_field()
        if self.hole is not None:
            self.choose(self.hole)
        self.ask(self.volume)
        self.ask(self.on)
        self.ask(self.at)
        self.ask(self.note)

    def job(self) -> Job:
        """Write one collection."""
        volume, on = self.volume.value(), self.on.value()
        assert volume is not None and on is not None  # noqa: S101, PT018 - both were right a moment ago
        ml, given, unit = volume
        row = FoundRecord(
            line=0,
            tree=self._tree.key,
            hole=self.hole.value() if self.hole is not None else None,
            on=on,
            at=self.at.value(),
            what=COLLECTED,
            volume_ml=ml,
            given=given,
            given_unit=unit,
            note=self.note.value() or "",
        )
        return _recording(self.desk, row, tr("written down"))


class CareForm(Form):
    """What was done to a wound, or seen there, after it was made."""

    def __init__(self, desk: Desk, tree: Tree, holes: Sequence[HoleFacts]) -> None:
        super().__init__(desk, tr("done at {tree}", tree=tree.name))
        self._tree = tree
        self.what = Choice(tr("what was done"), [(said(str(act)), act) for act in CARE])
        self.hole = _hole_choice(holes) if holes else None
        self.on = _day_field(desk)
        self.note = _note_field()
        self.choose(self.what)
        if self.hole is not None:
            self.choose(self.hole)
        self.ask(self.on)
        self.ask(self.note)

    def job(self) -> Job:
        """Write one act."""
        on = self.on.value()
        assert on is not None  # noqa: S101 - it was right a moment ago
        row = FoundRecord(
            line=0,
            tree=self._tree.key,
            hole=self.hole.value() if self.hole is not None else None,
            on=on,
            at=None,
            what=str(self.what.value()),
            note=self.note.value() or "",
        )
        return _recording(self.desk, row, tr("written down"))


def _recording(desk: Desk, row: FoundRecord, told: str) -> Job:
    today, now = desk.today, desk.now()

    def write(file: StandFile, watch: Watch) -> str:
        for text in record(file, [row], today, now).cautions:
            watch.caution(text)
        return told

    return write


def _day_field(desk: Desk) -> Field[date]:
    return Field(tr("day"), lambda text: typed.day(text, desk.today), text=desk.today.isoformat())


def _note_field() -> Field[str]:
    return Field(tr("note"), checked_note)


def _hole_choice(holes: Sequence[HoleFacts]) -> Choice:
    return Choice(tr("which hole"), [(hole_name(hole), hole.key) for hole in holes])
