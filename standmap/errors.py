"""The kinds of failure: what the user or the disk did, what we did, and an answer that is simply no."""

from __future__ import annotations


class UserError(Exception):
    """Something a person can mend: bad input, a full disk, a file in use.

    Parameters
    ----------
    what
        What happened, naming file, line or feature.
    remedy
        What to do about it.
    """

    def __init__(self, what: str, remedy: str = "") -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(f"{what}; {remedy}" if remedy else what)


class NothingToDo(Exception):  # noqa: N818 - an answer, not an error
    """The question was good and the answer is no: nothing to collect, nothing usable, nothing to undo."""


class BugError(Exception):
    """Our own mistake: logged with a report, never blamed on the person."""
