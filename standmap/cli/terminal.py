"""What a person at a terminal sees: answers on stdout, messages, cautions and progress on stderr."""

from __future__ import annotations

import json
import signal
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from types import FrameType

REPORT_EVERY_S = 0.5


def say(text: str = "") -> None:
    """Write a line of the answer."""
    sys.stdout.write(text + "\n")


def note(text: str) -> None:
    """Write a line beside the answer."""
    sys.stderr.write(text + "\n")


def one_line(text: str) -> str:
    """Return a text on one line, whatever it holds; what cannot be shown is a question mark."""
    return "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))


def emit_json(answer: object) -> None:
    """Write an answer as JSON, and nothing else: in plain ASCII, so that no terminal's encoding can spoil it."""
    sys.stdout.write(json.dumps(answer, allow_nan=False) + "\n")


def table(headings: Sequence[tuple[str, str]], rows: Iterable[Sequence[str]]) -> None:
    """Write a table.

    Parameters
    ----------
    headings
        Each column's heading and side, "left" or "right".
    rows
        Cells as text.
    """
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    grid = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="")
    for heading, side in headings:
        grid.add_column(Text(heading), justify="right" if side == "right" else "left", no_wrap=True)
    for row in rows:
        grid.add_row(*[Text(cell) for cell in row])
    # Off a terminal nothing is cut to a width: the table may be read by another program.
    console = Console(file=sys.stdout, highlight=False, width=None if sys.stdout.isatty() else 400)
    with console.capture() as shown:
        console.print(grid)
    for line in shown.get().splitlines():
        say(line.rstrip())


class TerminalMessages:
    """Messages as lines on stderr."""

    def tell(self, text: str) -> None:
        """Write the text."""
        note(text)

    def caution(self, text: str) -> None:
        """Write the text as a caution."""
        note(f"caution: {text}")


class TerminalProgress:
    """Progress on stderr, now and then; Ctrl-C asks for a stop instead of breaking off."""

    def __init__(self) -> None:
        self._stop = False
        self._last = time.monotonic()

    def at(self, done: float, total: float, what: str) -> None:
        """Write how far the work has come, not more often than every half second; without numbers, only what it is."""
        moment = time.monotonic()
        if moment - self._last < REPORT_EVERY_S:
            return
        self._last = moment
        if total:
            note(f"{what}: {done:,.0f} of {total:,.0f}")
        else:
            note(f"{what}: {done:,.0f}" if done else what)

    def stop_wanted(self) -> bool:
        """Return whether Ctrl-C was pressed."""
        return self._stop

    def stop(self) -> None:
        """Ask for a stop."""
        self._stop = True


@contextmanager
def stoppable() -> Iterator[TerminalProgress]:
    """Give a progress that Ctrl-C stops in good order."""
    progress = TerminalProgress()

    def wish(_number: int, _frame: FrameType | None) -> None:
        progress.stop()

    before = signal.signal(signal.SIGINT, wish)
    try:
        yield progress
    finally:
        signal.signal(signal.SIGINT, before)
