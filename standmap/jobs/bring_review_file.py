"""A review written to a JSON file, to be decided in any text editor and handed back.

The shape: `{"stand", "crs", "anyway", "notes_zone_s", "clock_ahead_s", "day", "pace_m", "station",
"sources": [{"file", "sha256"}],
"items": [{"id", "kind", "fate", "why", "name", "file", "where", "lon", "lat", "tree", "away_m", "decision", "into",
"possible", "candidates": [{"tree", "name", "away_m", "chance"}]}]}`; a candidate without a tree is one that is not
known yet.
Only `decision` and `into` are to be changed: `decision` is one of the words in `possible`; with "merge", `into` is the
name or the id of a tree of the stand, or the id of another item. Items may be taken out of the list: they then go as
proposed.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from standmap.errors import UserError
from standmap.jobs.bring_reading import hash_of
from standmap.jobs.bring_report import BringOptions, ClockStated
from standmap.jobs.review import Decision, Fate, Item, Proposal, Verb

REMEDY = "write it anew with 'standmap bring FILE SOURCE... --review OUT.json'"
MOST_BYTES = 500_000_000


@dataclass(frozen=True, slots=True)
class Decided:
    """A review that a person has decided.

    Attributes
    ----------
    fates
        What each item was when it was looked through.
    """

    paths: tuple[Path, ...]
    options: BringOptions
    fates: Mapping[str, Fate]
    decisions: Mapping[str, Decision]

    def check(self, proposal: Proposal) -> None:
        """Make sure that the items are still what they were.

        Raises
        ------
        UserError
            If the stand has changed so that one is not.
        """
        now = {i.id: i.fate for i in proposal.items}
        for item_id, fate in self.fates.items():
            if now.get(item_id) is not fate:
                is_now = now.get(item_id, "gone")
                raise UserError(f"{item_id} was {fate} when the review was written and is {is_now} by now", REMEDY)


def review_json(proposal: Proposal, stand: Path) -> dict[str, object]:
    """Return a review in its JSON shape, decided as it would go by itself."""
    return {
        "stand": str(stand),
        "crs": proposal.options.crs,
        "anyway": proposal.options.anyway,
        "notes_zone_s": proposal.options.clock.zone_s,
        "clock_ahead_s": proposal.options.clock.ahead_s,
        "day": None if proposal.options.day is None else proposal.options.day.isoformat(),
        "pace_m": proposal.options.pace_m,
        "station": proposal.options.station,
        "sources": [{"file": str(r.path.absolute()), "sha256": hash_of(r.path)[0]} for r in proposal.readings],
        "items": [_item_json(item) for item in proposal.items],
    }


def _item_json(item: Item) -> dict[str, object]:
    return {
        "id": item.id,
        "kind": item.kind,
        "fate": item.fate,
        "why": item.why,
        "name": item.name,
        "file": item.file,
        "where": item.where,
        "lon": None if item.at is None else item.at[0],
        "lat": None if item.at is None else item.at[1],
        "tree": item.tree or item.of,
        "away_m": None if item.away_m is None else round(item.away_m, 2),
        "decision": item.default,
        "into": None,
        "possible": list(item.choices),
        "candidates": [
            {
                "tree": one.ref,
                "name": one.name,
                "away_m": None if one.away_m is None else round(one.away_m, 2),
                "chance": round(one.chance, 3),
            }
            for one in item.candidates
        ],
    }


def read_decided(path: Path) -> Decided:
    """Return what a person decided in a review file.

    Raises
    ------
    UserError
        If it cannot be read, is no review, or one of its files has changed since.
    """
    size = hash_of(path)[1]
    if size > MOST_BYTES:
        raise UserError(f"{path.name}: is too large for a review", REMEDY)
    try:
        held = json.loads(path.read_bytes())
    except (ValueError, RecursionError) as error:
        raise UserError(f"{path.name}: is not JSON ({error})", REMEDY) from None
    try:
        sources = [(Path(_text(s["file"])), _text(s["sha256"])) for s in held["sources"]]
        crs = None if held.get("crs") is None else _text(held["crs"])
        clock = ClockStated(_number(held.get("notes_zone_s")), _number(held.get("clock_ahead_s")))
        day = None if held.get("day") is None else date.fromisoformat(_text(held["day"]))
        pace_m = _number(held.get("pace_m"))
        station = None if held.get("station") is None else _text(held["station"])
        anyway = held.get("anyway") is True
        options = BringOptions(crs, anyway=anyway, clock=clock, day=day, pace_m=pace_m, station=station)
        items = [(_text(item["id"]), item) for item in held["items"]]
        fates = {item_id: Fate(item["fate"]) for item_id, item in items}
        decisions = {item_id: _decision(item_id, item) for item_id, item in items}
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise UserError(f"{path.name}: is no review ({error!r} is missing or wrong)", REMEDY) from None
    for source, sha256 in sources:
        if hash_of(source)[0] != sha256:
            raise UserError(f"{source.name}: has changed since the review was written", REMEDY)
    return Decided(tuple(s for s, _ in sources), options, fates, decisions)


def _number(value: object) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e10:
        raise TypeError(str(value)[:40])
    return float(value)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(str(value)[:40])
    return value


def _decision(item_id: str, item: Mapping[str, Any]) -> Decision:
    word, into = item["decision"], item.get("into")
    if word not in list(Verb):
        raise UserError(f"{item_id}: '{str(word)[:40]}' is no decision", f"use one of {', '.join(Verb)}")
    return Decision(Verb(word), None if into is None else _text(into))
