"""Magnetic declination for sights: by their day, and by the place of the stand."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Protocol

from standmap.errors import UserError
from standmap.stand.sights import North
from standmap.stand.tree import LonLat

if TYPE_CHECKING:
    from standmap.survey.north import Declination


class Turned(Protocol):
    """What has a bearing: a line of a sheet, or a sight that is written already."""

    @property
    def north(self) -> North | None:
        """What its bearings are counted from."""

    @property
    def measured_on(self) -> date | None:
        """The day on which it was measured."""


@dataclass
class Declinations:
    """Declinations that sights ask for, each day looked up once.

    Parameters
    ----------
    today
        The day for sights that name none.
    at
        Longitude and latitude.
    """

    today: date
    at: LonLat
    _found: dict[date, Declination | UserError] = field(default_factory=dict)
    _undated: bool = False

    def of(self, sight: Turned) -> tuple[float | None, str]:
        """Return the declination of a sight, None where it has no magnetic bearing; and why there is none to be had."""
        if sight.north is not North.MAGNETIC:
            return None, ""
        self._undated = self._undated or sight.measured_on is None
        found = self._of_day(sight.measured_on or self.today)
        return (None, str(found)) if isinstance(found, UserError) else (found.deg, "")

    def _of_day(self, day: date) -> Declination | UserError:
        from standmap.survey.north import declination

        if day not in self._found:
            try:
                self._found[day] = declination(*self.at, day)
            except UserError as error:
                self._found[day] = error
        return self._found[day]

    def told(self) -> list[str]:
        """Return by what bearings were turned, for a person."""
        from standmap.survey.north import wording

        told = [
            f"bearings are turned to true north: {wording(found)} ({found.model}, {day.isoformat()})"
            for day, found in sorted(self._found.items())
            if not isinstance(found, UserError)
        ]
        if self._undated and told:
            told.append(f"bearings without a day are taken as of today ({self.today.isoformat()})")
        return told

    def cautions(self) -> list[str]:
        """Return what speaks against the compass there."""
        weak = any(not isinstance(found, UserError) and found.weak for found in self._found.values())
        return ["a compass is weak here; trust its bearings with care"] if weak else []
