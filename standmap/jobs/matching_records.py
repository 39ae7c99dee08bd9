"""Measurements and history that a file tells of a tree: what is known already is not written twice."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from standmap.formats.content import FoundMeasurement, FoundTree
from standmap.jobs.keys import new_key, own_key
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, Observation, TapHole
from standmap.stand.tree import Measurement, Tree


@dataclass
class Records:
    """The records that one command adds, beside those the stand holds."""

    stand: Stand
    measurements: list[Measurement] = field(default_factory=list)
    changed_measurements: dict[str, Measurement] = field(default_factory=dict)
    holes: list[TapHole] = field(default_factory=list)
    collections: list[Collection] = field(default_factory=list)
    observations: list[Observation] = field(default_factory=list)

    def __post_init__(self) -> None:
        stand = self.stand
        self._measurements = {m.key: m for m in stand.measurements}
        self._measured = {_of_measurement(m) for m in stand.measurements}
        self._holes = {h.key: h for h in stand.holes}
        self._same_hole = {_of_hole(h): h.key for h in stand.holes}
        self._numbers = {(h.tree_key, h.season, h.number) for h in stand.holes}
        self._collections = {c.key for c in stand.collections}
        self._collected = {_of_collection(c) for c in stand.collections}
        self._observations = {o.key for o in stand.observations}
        self._observed = {_of_observation(o) for o in stand.observations}

    def _count(self) -> int:
        kinds = (self.measurements, self.changed_measurements, self.holes, self.collections, self.observations)
        return sum(len(kind) for kind in kinds)

    def add(self, tree: Tree, found: FoundTree, source_key: str) -> bool:
        """Take in what is not there yet. Returns whether there was any."""
        before = self._count()
        for measured in found.measurements:
            self._add_measurement(tree, measured, source_key)
        holes: dict[str, str] = {}
        for history in found.holes:
            key = self._add_hole(tree, history.hole, source_key)
            holes[history.hole.key] = key
            for taken in history.collections:
                self._add_collection(taken, key, source_key)
        for seen in found.observations:
            self._add_observation(tree, seen, holes, source_key)
        return self._count() > before

    def _add_measurement(self, tree: Tree, found: FoundMeasurement, source_key: str) -> None:
        key = own_key(found.key)
        row = Measurement(
            key=key or new_key(),
            tree_key=tree.key,
            measured_on=found.measured_on,
            girth_mm=found.girth_mm,
            diameter_mm=found.diameter_mm,
            given=found.given,
            given_unit=found.given_unit,
            at_height_mm=found.at_height_mm,
            note=found.note,
            source_key=source_key,
        )
        known = self._measurements.get(row.key)
        if known is not None:
            # Our own key with another value: somebody mended a slip in a file that we wrote.
            fresh = replace(row, source_key=known.source_key)
            if known.tree_key == tree.key and _of_measurement(fresh) != _of_measurement(known):
                self.changed_measurements[row.key] = self._measurements[row.key] = fresh
        # The same girth of the same day is the same measurement, whichever file tells it.
        elif _of_measurement(row) not in self._measured:
            self._measured.add(_of_measurement(row))
            self._measurements[row.key] = row
            self.measurements.append(row)

    def _add_hole(self, tree: Tree, found: TapHole, source_key: str) -> str:
        """Return the key of the hole in this stand."""
        key = own_key(found.key)
        if key in self._holes:
            return key
        row = replace(found, key=key or new_key(), tree_key=tree.key, source_key=source_key)
        if key is None and _of_hole(row) in self._same_hole:
            return self._same_hole[_of_hole(row)]
        while (tree.key, row.season, row.number) in self._numbers:
            row = replace(row, number=row.number + 1)
        self._numbers.add((tree.key, row.season, row.number))
        self._holes[row.key] = row
        self._same_hole[_of_hole(row)] = row.key
        self.holes.append(row)
        return row.key

    def _add_collection(self, found: Collection, hole_key: str, source_key: str) -> None:
        key = own_key(found.key)
        row = replace(found, key=key or new_key(), hole_key=hole_key, batch_key=None, source_key=source_key)
        known = row.key in self._collections or (key is None and _of_collection(row) in self._collected)
        if not known:
            self._collections.add(row.key)
            self._collected.add(_of_collection(row))
            self.collections.append(row)

    def _add_observation(self, tree: Tree, found: Observation, holes: dict[str, str], source_key: str) -> None:
        key = own_key(found.key)
        hole_key = None if found.hole_key is None else holes.get(found.hole_key, found.hole_key)
        if hole_key not in self._holes:
            hole_key = None
        row = replace(found, key=key or new_key(), tree_key=tree.key, hole_key=hole_key, source_key=source_key)
        known = row.key in self._observations or (key is None and _of_observation(row) in self._observed)
        if not known:
            self._observations.add(row.key)
            self._observed.add(_of_observation(row))
            self.observations.append(row)


def _of_measurement(row: Measurement) -> tuple[object, ...]:
    return (row.tree_key, row.measured_on, row.girth_mm, row.diameter_mm, row.at_height_mm)


def _of_hole(row: TapHole) -> tuple[object, ...]:
    return (row.tree_key, row.made_on, row.kind, row.number)


def _of_collection(row: Collection) -> tuple[object, ...]:
    return (row.hole_key, row.collected_on, row.collected_at, row.volume_ml)


def _of_observation(row: Observation) -> tuple[object, ...]:
    return (row.tree_key, row.hole_key, row.what, row.observed_on)
