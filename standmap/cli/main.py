"""The command `standmap`: finds the words of a failure and the exit code of an answer."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import typer
from typer.exceptions import TyperException

from standmap import __version__
from standmap.cli import (
    adjusting,
    aftercare_command,
    batching,
    boiling,
    by_hand,
    collecting,
    correcting,
    demonstration,
    following,
    judging,
    keeping,
    keeping_safe,
    looking,
    marking,
    opening,
    picture_command,
    picturing,
    recording,
    rotating,
    sharing,
    sighting,
    tagging,
    terrain_command,
    tonight_command,
    walked_command,
    when_command,
)
from standmap.cli.terminal import note, one_line, say
from standmap.errors import NothingToDo, UserError

YES, NO, BAD_INPUT, OUR_FAULT, BROKEN_OFF = 0, 1, 2, 3, 130

app = typer.Typer(
    name="standmap",
    help="Know every tree of a stand, choose which may give sap, collect it in one short walk.",
    epilog="Tap only with permission, and only a tree you know for sure. Local rules come first.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)
for room in (
    opening,
    keeping,
    judging,
    collecting,
    tagging,
    recording,
    batching,
    boiling,
    rotating,
    walked_command,
    when_command,
    aftercare_command,
    correcting,
    marking,
    by_hand,
    sighting,
    adjusting,
    keeping_safe,
    looking,
    terrain_command,
    tonight_command,
    picture_command,
    picturing,
    sharing,
    following,
    demonstration,
):
    room.add_to(app)


def _version(wanted: bool) -> None:
    if wanted:
        say(f"standmap {__version__}")
        raise typer.Exit


@app.callback()
def standmap(
    *,
    _version: bool = typer.Option(
        False, "--version", help="Say which version this is.", callback=_version, is_eager=True
    ),
) -> None:
    """Know every tree of a stand, choose which may give sap, collect it in one short walk."""


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code: 0, 1 (no, or nothing to do), 2 (bad input), 3 (our fault)."""
    try:
        code = app(arguments or ["--help"], prog_name="standmap", standalone_mode=False)
    except NothingToDo as answer:
        note(one_line(f"standmap: {answer}"))
        return NO
    except UserError as error:
        note(one_line(f"standmap: {error}"))
        return BAD_INPUT
    except TyperException as error:
        note(one_line(f"standmap: {error.format_message().rstrip('.')}; see 'standmap --help'"))
        return BAD_INPUT
    except (BrokenPipeError, SystemExit):  # the reader of our output has gone; there is nobody to tell
        _write_no_more()
        return YES
    except OSError as error:
        where = f"{error.filename}: " if error.filename else "the answer could not be written: "
        note(one_line(f"standmap: {where}{error.strerror}; check the path, its rights and the disk"))
        return BAD_INPUT
    except Exception as error:  # noqa: BLE001 - the last net: what we did wrong is reported as ours
        return _report_fault(error)
    if code == BROKEN_OFF:
        note("standmap: stopped")
    return int(code or YES)


def _write_no_more() -> None:
    """Send what is still to be written nowhere, so that leaving does not fail again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _report_fault(error: Exception) -> int:
    """Keep a report that holds no data of the stand, and say where it is."""
    from standmap.jobs.crash_report import write_report

    path = write_report(error)
    note(f"standmap: this is our mistake, not yours ('standmap log' lists what was written); a report is in {path}")
    return OUR_FAULT


def main() -> None:
    """Run the command line of this process."""
    if sys.stdout is None:  # closed by whoever started us
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - it lives as long as we do
    # Accents in names must not break a terminal that is not UTF-8.
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    code = run(sys.argv[1:])
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _write_no_more()
    except OSError as error:
        note(f"standmap: the answer could not be written ({error.strerror}); 'standmap log' lists what was done")
        _write_no_more()
        code = BAD_INPUT
    sys.exit(code)


if __name__ == "__main__":
    main()
