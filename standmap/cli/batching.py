"""The command for sap that was brought together: batch."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument, past_day_of
from standmap.cli.sap_options import (
    BrixOption,
    ReadAtOption,
    UnitOption,
    VolumeOption,
    caution_rows,
    reading_of,
    say_cautions,
    volume_of,
)
from standmap.cli.terminal import emit_json, note, say, table

if TYPE_CHECKING:
    from datetime import date, datetime

    from standmap.jobs.batch_told import BatchTold
    from standmap.stand.fates import Fate
    from standmap.store.stand_file import StandFile

WAITING = "waiting"
"""Takes back what became of a batch."""


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(batch)


def batch(
    file: StandArgument,
    *,
    new: Annotated[
        str | None, typer.Option("--new", metavar="NAME", help="Make a batch of what was collected.")
    ] = None,
    day: Annotated[str | None, typer.Option("--day", metavar="DATE", help="When; today when left out.")] = None,
    since: Annotated[str | None, typer.Option("--since", metavar="DATE", help="Take the days before it, too.")] = None,
    trees: Annotated[
        list[str] | None, typer.Option("--from", metavar="TREE", help="Sap of these trees only; may be repeated.")
    ] = None,
    name: Annotated[str | None, typer.Option("--batch", metavar="NAME", help="Change this batch.")] = None,
    litres: VolumeOption = None,
    unit: UnitOption = None,
    brix: BrixOption = None,
    read_at: ReadAtOption = None,
    temperature: Annotated[str | None, typer.Option("--temperature", metavar="C", help="How warm the sap is.")] = None,
    fate: Annotated[
        str | None,
        typer.Option("--fate", help="drunk, boiled, fermented, frozen, spoiled, 'given away', or waiting again."),
    ] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="When; today when left out.")] = None,
    split: Annotated[
        str | None, typer.Option("--split", metavar="NAME", help="Take --litres out of it as a batch of its own.")
    ] = None,
    remark: Annotated[str | None, typer.Option("--note")] = None,
    listing: Annotated[bool, typer.Option("--list", help="List the batches, with how long each keeps.")] = False,
    remove: Annotated[str | None, typer.Option("--remove", metavar="NAME", help="Take a batch out.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Bring together what was collected, write down its sugar and what became of it, and see how long it keeps.

    'batch FILE --new NAME' makes one of all that was collected that day and is in none; 'batch FILE --batch NAME
    --fate boiled' says what became of it. Say --read-at only for a refractometer that neither corrects itself nor was
    set to 0 with water as cold as the sap.
    """
    from standmap.errors import UserError
    from standmap.jobs.sap_readings import read_temperature_c

    if sum((new is not None, name is not None, remove is not None, listing)) != 1:
        raise UserError("nothing says which batch", "give one of --new NAME, --batch NAME, --remove NAME and --list")
    volume = volume_of(litres, unit)
    reading = reading_of(brix, read_at)
    temperature_c = None if temperature is None else read_temperature_c(temperature)
    if listing:
        _list(file, as_json=as_json)
    elif remove is not None:
        _remove(file, remove, as_json=as_json)
    elif new is not None:
        from standmap.jobs.batches import BatchAsked, make_batch

        if any(given is not None for given in (fate, on, split)):
            raise UserError("--fate, --on and --split go with --batch", "make the batch first")
        days = past_day_of(day), None if since is None else past_day_of(since)
        asked = BatchAsked(new, *days, tuple(trees or ()), volume, reading, temperature_c, remark or "")
        with _opened(file) as (opened, today, now):
            _show(make_batch(opened, asked, today, now), as_json=as_json)
    elif day is not None or since is not None or trees:
        raise UserError("--day, --since and --from go with --new", "remove the batch and make it anew")
    elif split is not None:
        if volume is None or any(given is not None for given in (reading, temperature_c, fate, on, remark)):
            raise UserError("--split goes with --litres alone", "say how much is taken out")
        from standmap.jobs.batches import split_batch

        with _opened(file) as (opened, today, now):
            _show(split_batch(opened, name or "", split, volume, today, now), as_json=as_json)
    else:
        from standmap.jobs.batches import BatchChange, change_batch

        became, when = _became(fate, on)
        waits = fate is not None and became is None
        change = BatchChange(volume, reading, temperature_c, became, when, waits, remark)
        with _opened(file) as (opened, today, now):
            _show(change_batch(opened, name or "", change, today, now), as_json=as_json)


def _became(fate: str | None, on: str | None) -> tuple[Fate | None, date | None]:
    """Return what became of a batch, and when; nothing where it waits again."""
    from standmap.errors import UserError
    from standmap.stand.fates import Fate

    word = None if fate is None else " ".join(fate.split()).casefold()
    if word is None or word == WAITING:
        if on is not None:
            raise UserError("--on goes with --fate", "say what became of it")
        return None, None
    try:
        return Fate(word), None if on is None else past_day_of(on)
    except ValueError:
        raise UserError(f"'{word[:40]}' is no fate of sap", f"write one of: {', '.join(Fate)}, {WAITING}") from None


@contextmanager
def _opened(file: Path) -> Iterator[tuple[StandFile, date, datetime]]:
    from standmap.jobs.clock import now, today
    from standmap.jobs.opening import open_stand

    with open_stand(file) as opened:
        yield opened, today(), now()


def _list(file: Path, *, as_json: bool) -> None:
    from standmap.jobs.batches import list_batches
    from standmap.jobs.clock import today
    from standmap.jobs.opening import open_stand
    from standmap.jobs.sap_cautions import KEEPING

    with open_stand(file, read_only=True) as opened:
        found = list_batches(opened, today())
    cautions = KEEPING if any(told.kept for told in found) else ()
    if as_json:
        emit_json({"batches": [_json(told) for told in found], "cautions": caution_rows(cautions)})
        return
    headings = [("batch", "left"), ("day", "left"), ("litres", "right"), ("°Bx", "right"), ("°C", "right")]
    headings += [("trees", "right"), ("days old", "right"), ("what became of it", "left")]
    table(headings, [_row(told) for told in found])
    for told in found:
        _say_about(told)
    say_cautions(cautions)


def _remove(file: Path, name: str, *, as_json: bool) -> None:
    from standmap.jobs.batches import remove_batch

    with _opened(file) as (opened, _, now):
        gone = remove_batch(opened, name, now)
    if as_json:
        emit_json({"removed": gone.name})
    else:
        say(f"removed batch {gone.name}; what was collected for it is in no batch")


def _show(told: BatchTold, *, as_json: bool) -> None:
    from standmap.jobs.sap_cautions import cautions_for
    from standmap.stand.fates import fate_of

    batch = told.batch
    cautions = cautions_for(fate_of(batch.fate))
    if as_json:
        emit_json({"batch": _json(told), "cautions": caution_rows(cautions)})
        return
    least = "at least " if told.at_least else ""
    sugar = "" if batch.sugar_brix is None else f", {batch.sugar_brix:g} °Bx"
    of = "" if told.whole is None else f", part of {told.whole}"
    say(f"batch {batch.name}: {least}{told.volume_ml / 1000:.1f} L of {len(told.trees)} trees{sugar}{of}")
    if batch.fate and batch.fate_on is not None:
        say(f"{batch.fate} on {batch.fate_on.isoformat()}")
    _say_about(told)
    say_cautions(cautions)


def _say_about(told: BatchTold) -> None:
    for one in told.kept:
        note(f"{told.batch.name}: {one.text} [{one.source}]")
    for text in told.doubts:
        note(f"{told.batch.name}: {text}")


def _row(told: BatchTold) -> list[str]:
    batch = told.batch
    on = "" if batch.fate_on is None else f" on {batch.fate_on.isoformat()}"
    return [
        batch.name,
        batch.made_on.isoformat(),
        f"{told.volume_ml / 1000:.1f}",
        "" if batch.sugar_brix is None else f"{batch.sugar_brix:g}",
        "" if batch.temperature_c is None else f"{batch.temperature_c:g}",
        str(len(told.trees)),
        str(told.age_days),
        f"{batch.fate or WAITING}{on}",
    ]


def _json(told: BatchTold) -> dict[str, object]:
    batch = told.batch
    return {
        "batch": batch.name,
        "id": batch.key,
        "day": batch.made_on.isoformat(),
        "oldest": told.oldest.isoformat(),
        "age_days": told.age_days,
        "litres": told.volume_ml / 1000,
        "summed_l": None if told.summed_ml is None else told.summed_ml / 1000,
        "at_least": told.at_least,
        "trees": [tree.name for tree in told.trees],
        "brix": batch.sugar_brix,
        "temperature_c": batch.temperature_c,
        "fate": batch.fate or None,
        "fate_on": None if batch.fate_on is None else batch.fate_on.isoformat(),
        "part_of": told.whole,
        "note": batch.note,
        "keeping": [{"level": str(one.level), "text": one.text, "source": one.source} for one in told.kept],
        "doubts": list(told.doubts),
    }
