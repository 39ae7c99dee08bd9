"""The command that makes the best of all that was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument
from standmap.cli.terminal import TerminalMessages, emit_json, note, say, stoppable, table

if TYPE_CHECKING:
    from collections.abc import Mapping

    from standmap.jobs.adjust_answer import Adjustment, MovedPoint
    from standmap.units_shown import UnitsShown

MOST_LOOPS = 5
"""Loops that close as they should are told no more than so many of; those that do not are all told."""

MOST_UNCHECKED = 5
"""Readings that nothing checks are named no more than so many of."""

REMARKS = {"nothing": "hangs on nothing", "turn": "can still swing", "side": "one of two sides"}
"""What a point lacks, by the word of its lack."""


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(adjust)


def adjust(
    file: StandArgument,
    *,
    accept: Annotated[bool, typer.Option("--accept", help="Write the new positions, as one step.")] = False,
    leave_out: Annotated[
        list[str] | None, typer.Option("--leave-out", metavar="ID", help="An observation that is not to count.")
    ] = None,
    take_in: Annotated[
        list[str] | None, typer.Option("--take-in", metavar="ID", help="Let one count again; written at once.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Make the best of walks, tape and compass: where each tree lies, how sure it is, and what disagrees."""
    from standmap.errors import UserError
    from standmap.jobs.adjust import propose_adjustment, set_used, store_adjustment
    from standmap.jobs.clock import now
    from standmap.jobs.instruments import instruments_of
    from standmap.jobs.opening import open_stand
    from standmap.jobs.preferences import read_settings
    from standmap.units_shown import System, UnitsShown

    if take_in and accept:
        raise UserError("--take-in is a step of its own", "take it back in first, look, and then accept")
    settings = read_settings(TerminalMessages())
    with open_stand(file, read_only=not (accept or take_in)) as opened:
        if take_in:
            for told in set_used(opened, take_in, now(), used=True):
                note(f"taken back in: {told}")
        with stoppable() as progress:
            usual = instruments_of(settings)
            found = propose_adjustment(opened, left_out=leave_out or (), progress=progress, usual=usual)
        if as_json and not accept:
            emit_json(_json(found, accepted=False))
            return
        if accept:
            moved = store_adjustment(opened, found, now())
            if as_json:
                emit_json(_json(found, accepted=True))
                return
    _show(found, UnitsShown(System(settings.units)))
    if accept:
        say(f"moved {_positions(moved)}; 'standmap undo' takes it back")
    else:
        say(f"would move {_positions(len(found.moved))}; nothing is written: --accept writes it")


def _positions(count: int) -> str:
    return "1 position" if count == 1 else f"{count} positions"


def _show(found: Adjustment, units: UnitsShown) -> None:
    headings = [
        ("tree or place", "left"),
        ("moves", "right"),
        ("toward", "right"),
        ("sure within", "right"),
        ("to its neighbour", "left"),
        ("", "left"),
    ]
    lacks = {key: REMARKS[loose.lack] for loose in found.loose for key in loose.points}
    names = {point.key: point.name for point in found.points}
    table(headings, [_row(point, lacks.get(point.key, ""), names, units) for point in found.points])
    say()

    def tell(text: str, more: str = "") -> None:
        say(units.lengths_in_sentence(text) + more)

    for walk in found.walks:
        tell(walk.text)
    for loop in found.misclosures[: max(MOST_LOOPS, sum(m.gross for m in found.misclosures))]:
        tell(loop.text)
    for wrong in found.disagreeing:
        tell(f"disagrees: {wrong.text}", f"; --leave-out {wrong.id}")
    for out in found.left_out:
        tell(f"left out: {out.text}", "" if out.id in found.left_out_now else f"; --take-in {out.id}")
    for loose in found.loose:
        tell(loose.text)
    unchecked = found.unchecked
    for reading in unchecked[:MOST_UNCHECKED]:
        tell(f"nothing checks the {reading.what} of {reading.text}")
    if len(unchecked) > MOST_UNCHECKED:
        say(f"... and {len(unchecked) - MOST_UNCHECKED} more readings that nothing checks; --json names them all")
    say(f"readings to spare: {found.spare}; misfit {found.misfit:.2f} (1 is as good as assumed)")


def _row(point: MovedPoint, lacks: str, names: Mapping[str, str], units: UnitsShown) -> list[str]:
    sure = "" if point.sigma_m is None else f"± {_length(point.sigma_m, units)}"
    beside = "" if point.beside is None else f"± {_length(point.beside[1], units)} to {names[point.beside[0]]}"
    remark = "pinned" if point.held else lacks
    toward = "" if point.bearing_deg is None else f"{point.bearing_deg:.0f}°"
    return [point.name, _length(point.away_m, units) if point.moves else "", toward, sure, beside, remark]


def _length(metres: float, units: UnitsShown) -> str:
    """Return a length in a column, where all have the same decimals."""
    return f"{metres:.2f} m" if units.system == "metric" else units.length(metres)


def _json(found: Adjustment, *, accepted: bool) -> dict[str, object]:
    names = {point.key: point.name for point in found.points}

    def named(keys: tuple[str, ...]) -> list[str]:
        return [names.get(key, key) for key in keys]

    return {
        "accepted": accepted,
        "misfit": found.misfit,
        "spare": found.spare,
        "points": [
            {
                "name": p.name,
                "id": p.key,
                "kind": "tree" if p.tree else "place",
                "pinned": p.held,
                "before": list(p.before),
                "at": list(p.at),
                "moves_m": p.away_m,
                "covariance_m2": None if p.covariance is None else list(p.covariance),
                "beside": None if p.beside is None else {"id": p.beside[0], "sigma_m": p.beside[1]},
            }
            for p in found.points
        ],
        "readings": [
            {
                "id": r.id,
                "what": r.what,
                "points": named(r.points),
                "checked": r.checked,
                "sigmas": r.sigmas,
                "weight": r.weight,
            }
            for r in found.readings
        ],
        "walks": [{"name": w.name, "id": w.key, "off_east_m": w.east_m, "off_north_m": w.north_m} for w in found.walks],
        "disagreeing": [
            {
                "id": d.id,
                "what": d.what,
                "points": named(d.points),
                "off": d.off,
                "sigmas": d.sigmas,
                "weight": d.weight,
                "text": d.text,
            }
            for d in found.disagreeing
        ],
        "left_out": [{"id": o.id, "points": named(o.points), "text": o.text} for o in found.left_out],
        "loops": [
            {
                "points": named(m.points),
                "off_m": m.off_m,
                "length_m": m.length_m,
                "sigma_m": m.sigma_m,
                "gross": m.gross,
                "text": m.text,
            }
            for m in found.misclosures
        ],
        "loose": [{"lack": h.lack, "points": named(h.points), "text": h.text} for h in found.loose],
    }
