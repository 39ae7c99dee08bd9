"""When a walk begins, when each collector is back, and when somebody begins to look."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from standmap.errors import UserError
from standmap.jobs.round_light import light_of, usual_start
from standmap.jobs.round_options import RoundOptions
from standmap.stand.tree import LonLat


def sets_out_of(day: date, at: LonLat, options: RoundOptions) -> tuple[datetime, str]:
    """Return when the first collector sets out, with this machine's zone, and what is assumed of it, in words."""
    hours = [walker.sets_out or options.sets_out for walker in options.people]
    known = [hour for hour in hours if hour is not None]
    if known:
        return moment(day, min(known)), ""
    light = light_of(day, at)
    begins = usual_start(day, light)
    why = "for sunrise" if light.sunrise is not None else "for the sun does not rise that day"
    return begins, f"nobody said when the walk sets out: {begins:%H:%M} is taken, {why}"


def minutes_after(sets_out: datetime, hour: time | None) -> float:
    """Return how many minutes later than the walk a collector sets out who said an hour; 0 for one who said none."""
    if hour is None:
        return 0.0
    return max((moment(sets_out.date(), hour) - sets_out).total_seconds() / 60, 0.0)


def minutes_until(sets_out: datetime, latest: time | None) -> float | None:
    """Return the minutes until everybody must be back.

    Raises
    ------
    UserError
        If that is before the walk begins.
    """
    if latest is None:
        return None
    minutes = (moment(sets_out.date(), latest) - sets_out).total_seconds() / 60
    if minutes <= 0:
        raise UserError(
            f"the walk sets out at {sets_out:%H:%M}, and is to be over at {latest:%H:%M}", "choose a later hour"
        )
    return minutes


def back_by(sets_out: datetime, minutes: float, margin_min: float) -> datetime:
    """Return when somebody begins to look, to the full minute."""
    late = sets_out + timedelta(minutes=minutes + margin_min)
    return late.replace(second=0, microsecond=0) + timedelta(minutes=1 if late.second or late.microsecond else 0)


def hour_told(at: datetime, day: date) -> str:
    """Return an hour as a person reads it; that of another day than the walk's with its day."""
    return f"{at:%H:%M}" if at.date() == day else f"{at:%Y-%m-%d, %H:%M}"


def moment(day: date, hour: time) -> datetime:
    """Return an hour of a day in this machine's zone."""
    return datetime.combine(day, hour).astimezone()
