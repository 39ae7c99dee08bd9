"""From models and an outlook to days: leaf-out by each model, the first and the last day to tap."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from standmap.season.answer import Advised, DaySpread, ModelTold, Phase
from standmap.season.fitting import Taught, shrunk_mean, shrunk_miss, spread_days
from standmap.season.outlook import Outlook, most_likely_sums
from standmap.season.soil import sours

LEAD_DAYS = 21.0
LEAD_SPREAD_DAYS = 7.0
"""From first sap to leaf-out, and how far that varies: assumptions between published lengths of the season, 10 days to
3 weeks (UAF Cooperative Extension, J. Cascio 2015) and 2 to 5 weeks (Finnish Forest Research Institute, via Seinäjoki
UAS); the season ends with leaf-out (Finnish Forest Centre 2019)."""

LEAD_SOURCE = (
    "assumption of three weeks before leaf-out, between seasons of 10 days to 3 weeks (UAF Cooperative Extension 2015) "
    "and 2 to 5 weeks (Finnish Forest Research Institute, via Seinäjoki UAS)"
)
END_SOURCE = (
    "the season ends with leaf-out (Finnish Forest Centre 2019); sap ferments after several days above +10 °C "
    "(Gryazkin et al. 2023)"
)

SOON_DAYS = 7
"""So many days before the earliest first day one gets ready: an assumption."""


LAST_DAYS = 7
"""The last days begin so many days before the most likely last one: an assumption."""


@dataclass(frozen=True, slots=True)
class ModelSays:
    """What one model says of a season, in days from its first: leaf-out in each member, none where never; its miss."""

    told: ModelTold
    members: tuple[float, ...]
    miss_days: float


def model_says(taught: Taught, look: Outlook, mean_error: float | None) -> ModelSays:
    """Return what a model says under an outlook."""
    model = taught.model
    found = [model.leaf_out(member, look.begins) for member in look.members]
    # A course that never reaches what is wanted comes out at its end.
    members = tuple(float(len(look.members[0]) if day is None else day) for day in found)
    if all(day is None for day in found):
        members = ()
    at = max(look.known - 1, 0)
    middle = most_likely_sums(look.members)
    # What is not known yet of the season is a further miss where there is but one guess of it.
    miss = math.hypot(taught.miss_days, guess_days(look, members)) if look.guessed else taught.miss_days
    spread = _days(look.begins, spread_days(members, miss)) if members else None
    return ModelSays(
        ModelTold(
            title=model.title,
            about=model.about,
            source=model.source,
            leaf_out=spread,
            own_years=taught.years,
            error_days=taught.error_days,
            mean_error_days=mean_error,
            reached=float(model.reached(middle, look.begins)[at]) if look.known else 0.0,
            wanted=float(model.wanted(middle)[_index(members, at, len(middle))]),
        ),
        members,
        miss,
    )


def _index(members: Sequence[float], at: int, count: int) -> int:
    """Return the day on which leaf-out is most likely: what is wanted then, after all chilling, is what is told."""
    return min(round(sorted(members)[len(members) // 2]), count - 1) if members else at


def guess_days(look: Outlook, members: Sequence[float]) -> float:
    """Return how far leaf-out may lie off where the weather to come is guessed: a fifth of the days until then."""
    left = max((day - look.known for day in members), default=0.0)
    return max(left, 0.0) / 5


def pooled(said: Sequence[ModelSays]) -> tuple[tuple[float, ...], float] | None:
    """Return leaf-out by all models together: the members of all, and the root mean square of their misses."""
    speaking = [one for one in said if one.members]
    if not speaking:
        return None
    members = tuple(day for one in speaking for day in one.members)
    miss = math.sqrt(math.fsum(one.miss_days**2 for one in speaking) / len(speaking))
    return members, miss


def first_day(
    begins: date, leaf_out: Sequence[float], miss_days: float, own_leads: Sequence[float]
) -> tuple[Advised, float]:
    """Return the first advisable day to tap and the days from it to leaf-out that it rests on.

    Parameters
    ----------
    leaf_out
        Equally likely days of leaf-out.
    own_leads
        Days from first sap to leaf-out in seasons of which both were seen.
    """
    lead = shrunk_mean(own_leads, LEAD_DAYS)
    varies = shrunk_miss([own - lead for own in own_leads], LEAD_SPREAD_DAYS)
    days = spread_days([day - lead for day in leaf_out], math.hypot(miss_days, varies))
    why = f"first sap comes about {lead:.0f} days before leaf-out"
    if own_leads:
        why += f", by {len(own_leads)} own seasons and the usual three weeks"
    return Advised(_days(begins, days), why, LEAD_SOURCE), lead


def last_day(look: Outlook, said: Sequence[ModelSays], miss_days: float, first: date) -> Advised:
    """Return the last advisable day: the eve of leaf-out or of sap that sours in the vessel, whichever is sooner."""
    from_index = max((first - look.begins).days, 0)
    ends, sour = [], 0
    for one in said:
        for member, leaf_out in zip(look.members, one.members, strict=bool(one.members)):
            warm = sours(member, from_index)
            sour += warm is not None and warm < leaf_out
            ends.append(min(leaf_out, math.inf if warm is None else float(warm)) - 1)
    days = _days(look.begins, spread_days(ends, miss_days))
    if sour * 2 > len(ends):
        why = "by then the days are likely to be so warm that sap sours in the vessel, before leaf-out even"
    else:
        why = "the day before leaf-out: then the sap turns and ends"
    return Advised(days, why, END_SOURCE)


def phase_of(
    day: date,
    first: DaySpread,
    last: DaySpread,
    *,
    sap_seen: date | None,
    leaf_out_seen: date | None,
    over_seen: date | None,
) -> tuple[Phase, str]:
    """Return where the season stands on a day and why, in words.

    Parameters
    ----------
    sap_seen, leaf_out_seen, over_seen
        Days on which first sap, leaf-out and last sap were seen this season, where they were.
    """
    if over_seen is not None and over_seen <= day:
        return Phase.OVER, f"last sap was seen on {over_seen.isoformat()}"
    if leaf_out_seen is not None and leaf_out_seen <= day:
        return Phase.OVER, f"leaf-out was seen on {leaf_out_seen.isoformat()}"
    if day > last.late:
        return Phase.OVER, f"leaf-out, or days that sour the sap, were to be expected by {last.late.isoformat()}"
    running = (sap_seen is not None and sap_seen <= day) or day >= first.likely
    if running and day >= max(last.early, last.likely - timedelta(days=LAST_DAYS)):
        return Phase.LAST_DAYS, f"it may be over any day now, most likely by {last.likely.isoformat()}"
    if sap_seen is not None and sap_seen <= day:
        return Phase.RUNNING, f"first sap was seen on {sap_seen.isoformat()}"
    if running:
        return Phase.RUNNING, f"sap was to be expected from {first.likely.isoformat()} on: try one tree"
    if day >= first.early - timedelta(days=SOON_DAYS):
        return Phase.SOON, f"most likely from {first.likely.isoformat()} on"
    return Phase.TOO_EARLY, f"not before {first.early.isoformat()}, most likely from {first.likely.isoformat()} on"


def _days(begins: date, days: Sequence[float]) -> DaySpread:
    early, likely, late = (begins + timedelta(days=round(day)) for day in days)
    return DaySpread(early, likely, late)
