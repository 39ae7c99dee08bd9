"""One stop as it is asked about, whatever the walk is for: where, what is carried away or left there, what to do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from standmap.jobs.planned_round import Todo
from standmap.jobs.vessels import Hanging
from standmap.sap.night import NightRun
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Tree

LeftOut = tuple[str, str]
"""The name of a tree that is not asked about, and why."""

PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class AskedStop:
    """One vessel to empty, one hole to make or one wound to see to.

    Attributes
    ----------
    key, hole, hole_number
        As of a `RoundStop`.
    litres, high_l
        Expected there, and what nine times of ten is not passed.
    taken_kg
        What is taken up there.
    left_kg
        What is carried out to it and left there.
    on_foot_min
        From where a sledge or barrow is left on a path, there and back.
    night
        What a hole gives there in one night; None where nothing is collected.
    hanging
        The vessel there and what runs into it until the walk sets out; None where none hangs.
    todo, cautions
        What to do there, and what to mind.
    """

    key: str
    tree: Tree
    hole: TapHole | None
    hole_number: int
    litres: float = 0.0
    high_l: float = 0.0
    taken_kg: float = 0.0
    left_kg: float = 0.0
    on_foot_min: float = 0.0
    night: NightRun | None = None
    hanging: Hanging | None = None
    todo: tuple[Todo, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """What a purpose asks for on a day.

    Attributes
    ----------
    notes
        Assumptions behind it, in words.
    cautions
        Of the whole walk, in words.
    """

    stops: tuple[AskedStop, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = field(default=())


def named_or_all(stand: Stand, names: Sequence[str], everyone: Iterable[Tree]) -> list[Tree]:
    """Return the trees that were named, each once, or all where none was.

    Raises
    ------
    UserError
        If a name is no tree's.
    """
    return list(dict.fromkeys(stand.tree(name) for name in names)) if names else list(everyone)
