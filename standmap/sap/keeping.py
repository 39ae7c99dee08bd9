"""How long sap keeps, by its age and how warm it stands, against published limits.

Sources: refrigerated about 6 days, at room temperature no longer than 1 day: Bilek, Pytko & Sosnowski 2016,
doi 10.15584/pjsd.2016.20.1 (abstract). Stricter, under 3 days warm or cold where nothing is added: Bilek, Vietoris &
Ilko, Potravinarstvo (abstract). For maple sap 3.3 °C or colder, and within 7 days: reposts of a sheet believed to be
University of Maine Extension bulletin 7036.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

REFRIGERATED_DAYS = 6
ROOM_DAYS = 1
STRICT_DAYS = 3
MAPLE_DAYS = 7
MAPLE_MOST_C = 3.3

CHILLED_MOST_C = 5.0
"""What counts as refrigerated: an assumption; public bodies say 4 to 5 °C."""

BILEK_2016 = "Bilek, Pytko & Sosnowski 2016, doi 10.15584/pjsd.2016.20.1"
BILEK_STRICT = "Bilek, Vietoris & Ilko, Potravinarstvo (abstract)"
MAINE = "believed University of Maine Extension bulletin 7036, for maple"


class Keeps(StrEnum):
    """What is to be thought of sap of some age."""

    GOOD = "keeps"
    LAST_DAY = "last day"
    PAST = "past"


@dataclass(frozen=True, slots=True)
class KeepingTold:
    """One sentence about it, with its source."""

    level: Keeps
    text: str
    source: str


def keeping(age_days: int, temperature_c: float | None) -> tuple[KeepingTold, ...]:
    """Return what published limits say of sap that is still fresh, the one that rules it first.

    Parameters
    ----------
    age_days
        Since its oldest part was collected.
    temperature_c
        How warm it stands; where that is not known, it is taken as not chilled.
    """
    chilled = temperature_c is not None and temperature_c <= CHILLED_MOST_C
    most = REFRIGERATED_DAYS if chilled else ROOM_DAYS
    level = Keeps.GOOD if age_days < most else Keeps.LAST_DAY if age_days == most else Keeps.PAST
    if chilled:
        how = "refrigerated it keeps about 6 days"
    elif temperature_c is not None:
        how = "at room temperature it keeps no longer than 1 day"
    else:
        how = "refrigerated it keeps about 6 days, warm no longer than 1, and how it stands is not written down"
    unsure = temperature_c is None and age_days <= REFRIGERATED_DAYS
    if level is Keeps.GOOD:
        text = f"{_old(age_days)}; {how}"
    else:
        then = "unless it was chilled, pour it away" if unsure else "unless it was frozen, pour it away"
        if level is Keeps.LAST_DAY:
            then = "boil, freeze or drink it today"
        text = f"{_old(age_days)}; {how}: {then}"
    told = [KeepingTold(level, text, BILEK_2016)]
    if age_days >= STRICT_DAYS and level is not Keeps.PAST:
        told.append(KeepingTold(Keeps.LAST_DAY, "a stricter source says under 3 days, warm or cold", BILEK_STRICT))
    if temperature_c is not None and chilled and temperature_c > MAPLE_MOST_C:
        told.append(KeepingTold(Keeps.GOOD, "for maple 3.3 °C or colder is advised, for up to 7 days", MAINE))
    return tuple(told)


def _old(days: int) -> str:
    if days == 0:
        return "collected today"
    return "1 day old" if days == 1 else f"{days} days old"
