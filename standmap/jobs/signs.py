"""Days on which the stand showed where the season is: written down, listed, taken out; each is one edit."""

from __future__ import annotations

from datetime import date, datetime

from standmap.errors import NothingToDo, UserError
from standmap.jobs.keys import new_key
from standmap.jobs.names import checked_note
from standmap.jobs.when import season_of, stand_is_southern
from standmap.season.answer import Sign
from standmap.stand.records import SeasonSign
from standmap.stand.snapshot import Stand
from standmap.store.stand_file import StandFile

SPRING_NORTH = range(1, 8)
SPRING_SOUTH = range(7, 13)
"""Months in which a sign of spring can be seen: January to July, in the south July to December."""

ORDER = (Sign.FIRST_SAP, Sign.BUDS_OPENING, Sign.LEAF_OUT)
"""Signs that follow one another in every spring."""


def note_sign(file: StandFile, what: str, on: date, today: date, now: datetime, *, remark: str = "") -> SeasonSign:
    """Write down a sign of the season, as one edit.

    Parameters
    ----------
    what
        One of `Sign`, however it is cased.

    Raises
    ------
    UserError
        If there is no such sign, or it cannot have been seen that day, or it was noted for that season already.
    """
    sign = sign_of(what)
    stand = file.stand()
    southern = stand_is_southern(stand)
    if on > today:
        raise UserError(f"{on.isoformat()} is after today", "only what has happened is written down")
    if on.month not in (SPRING_SOUTH if southern else SPRING_NORTH):
        raise UserError(
            f"{on.isoformat()}: {sign} is not seen at that time of year", "check the day; a sign belongs to spring"
        )
    season = season_of(on, southern=southern)
    same_season = [s for s in stand.signs if season_of(s.seen_on, southern=southern) == season and s.what in set(Sign)]
    for known in same_season:
        if known.what == sign:
            raise UserError(
                f"{sign} was seen on {known.seen_on.isoformat()} already",
                "take that one out first, if it was a slip",
            )
        _check_order(sign, on, Sign(known.what), known.seen_on)
    row = SeasonSign(new_key(), str(sign), on, checked_note(remark))
    with file.writing(f"{sign}: {on.isoformat()}", now) as writing:
        writing.insert(row)
    return row


def remove_sign(file: StandFile, what: str, on: date, now: datetime) -> SeasonSign:
    """Take a sign of a day out, as one edit.

    Raises
    ------
    UserError
        If there is no such sign.
    NothingToDo
        If it was not noted for that day.
    """
    sign = sign_of(what)
    for row in file.stand().signs:
        if row.what == sign and row.seen_on == on:
            with file.writing(f"taken out: {sign} on {on.isoformat()}", now) as writing:
                writing.delete(row)
            return row
    raise NothingToDo(f"{sign} is not noted for {on.isoformat()}")


def signs_of(stand: Stand) -> tuple[SeasonSign, ...]:
    """Return the signs of a stand, newest first."""
    return tuple(sorted(stand.signs, key=lambda row: row.seen_on, reverse=True))


def sign_of(text: str) -> Sign:
    """Return the sign that a text names.

    Raises
    ------
    UserError
        If it names none.
    """
    wanted = " ".join(text.split()).casefold()
    for sign in Sign:
        if wanted in (str(sign), str(sign).replace("-", " "), str(sign).replace("-", "")):
            return sign
    raise UserError(f"'{text[:40]}' is no sign of the season", f"they are: {', '.join(Sign)}")


def _check_order(sign: Sign, on: date, other: Sign, other_on: date) -> None:
    if sign not in ORDER or other not in ORDER:
        return
    earlier, later = (
        ((sign, on), (other, other_on))
        if ORDER.index(sign) < ORDER.index(other)
        else (
            (other, other_on),
            (sign, on),
        )
    )
    if earlier[1] > later[1]:
        raise UserError(
            f"{earlier[0]} on {earlier[1].isoformat()} would come after {later[0]} on {later[1].isoformat()}",
            "check both days",
        )
