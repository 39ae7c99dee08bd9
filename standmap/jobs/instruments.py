"""How good a person says their tape and compass are, from the settings."""

from __future__ import annotations

from standmap.settings import Settings
from standmap.survey.one_sight import Instruments


def instruments_of(settings: Settings) -> Instruments:
    """Return what is taken where a sight does not tell how good it is."""
    return Instruments(
        compass_deg=settings.compass_deg,
        tape_part=settings.tape_percent / 100,
        paces_part=settings.paces_percent / 100,
        slope_deg=settings.slope_deg,
    )
