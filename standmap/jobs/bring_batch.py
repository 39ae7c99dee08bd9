"""What one `bring` will write, beside what was known before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from standmap.formats.content import FoundArea, FoundLine, FoundPlace
from standmap.jobs.bring_weather import WeatherTaken
from standmap.jobs.matching import Gathered
from standmap.stand.ground import Area, Line, Place
from standmap.stand.names import folded
from standmap.stand.records import Media
from standmap.stand.walks import Stop, Walk

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame


Ground = Place | Line | Area
FoundGround = FoundPlace | FoundLine | FoundArea


def same_ground(thing: Ground | FoundGround) -> tuple[object, ...]:
    """Return what makes two pieces of ground one: kind and shape."""
    if isinstance(thing, Place | FoundPlace):
        return (thing.kind, thing.at)
    return (thing.kind, thing.course if isinstance(thing, Line | FoundLine) else thing.outline)


@dataclass
class Batch:
    """Everything that one command will write, beside what was known before.

    Attributes
    ----------
    names
        Names that were promised to new trees, by the id of what they come from.
    makers
        Which item each new tree comes from, by the tree's key.
    weather
        Daily weather and signs of the season.
    """

    trees: Gathered
    frame: WorkingFrame | None
    known_walks: Sequence[Walk]
    names: Mapping[str, str] = field(default_factory=dict)
    makers: dict[str, str] = field(default_factory=dict)
    ground_by_key: dict[str, Ground] = field(default_factory=dict)
    ground_by_shape: dict[tuple[object, ...], Ground] = field(default_factory=dict)
    new_ground: dict[str, Ground] = field(default_factory=dict)
    changed_ground: dict[str, Ground] = field(default_factory=dict)
    walks: list[Walk] = field(default_factory=list)
    stops: list[Stop] = field(default_factory=list)
    changed_stops: list[Stop] = field(default_factory=list)
    media: list[Media] = field(default_factory=list)

    def __post_init__(self) -> None:
        stand = self.trees.stand
        self.weather = WeatherTaken(stand)
        self._promised = {folded(name) for name in self.names.values()}
        things: tuple[Ground, ...] = (*stand.places, *stand.lines, *stand.areas)
        for thing in things:
            self.note_ground(thing)

    def note_ground(self, thing: Ground) -> None:
        """Remember a piece of ground by its key and by its shape."""
        self.ground_by_key[thing.key] = thing
        self.ground_by_shape[same_ground(thing)] = thing

    def name_for(self, item_id: str, letter: str) -> str:
        """Return the name promised to a nameless new tree, or else the next free one that was promised to none."""
        promised = self.names.get(item_id)
        if promised is not None and next(self.trees.called(promised), None) is None:
            return promised
        name = self.trees.free_name(letter)
        while folded(name) in self._promised:
            name = self.trees.free_name(letter)
        return name

    def name_beside(self, name: str) -> str:
        """Return a free name for a tree that is not the one of this name: B7-2, B7-3 and so on."""
        number = 2
        while next(self.trees.called(f"{name}-{number}"), None) or folded(f"{name}-{number}") in self._promised:
            number += 1
        return f"{name}-{number}"
