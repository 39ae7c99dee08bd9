"""How a round is to be walked: what a person may choose, its bounds, and the assumptions behind it."""

from __future__ import annotations

from dataclasses import dataclass

from standmap.errors import UserError
from standmap.sap.expected import VESSEL_ML

CAPACITY_KG = 15.0
"""Load carried unless said otherwise, cans included: an assumption on the careful side of the figure below."""

CAPACITY_BOUNDS_KG = (5.0, 40.0)

LOAD_CAUTION_KG = 16.0
LOAD_CAUTION = (
    "a load over 16 kg: a public handling guideline (HSE, INDG143, from memory: 16 kg for women and 25 kg for men, "
    "held close to the body, no more than 10 m without rest) asks for a closer look, on bad ground all the more"
)

LONG_OPEN_DAYS = 35
"""A hole open for longer is asked about: a season lasts two to five weeks (Finnish Forest Research Institute
figures, via Seinäjoki UAS)."""

CAN_KG = 1.0
"""Weight of the empty cans of one trip: an assumption."""

SERVICE_MIN = 3.0
"""Minutes at one vessel: an assumption."""

SPEED_M_PER_MIN = 5.0367 * 3 / 5 * 1000 / 60
"""Level walking off the path, 3.02 km/h (Tobler 1993, NCGIA Technical Report 93-1: 5.0367 km/h times 3/5)."""


@dataclass(frozen=True, slots=True)
class RoundOptions:
    """How the walk is to be.

    Attributes
    ----------
    trees
        Names or ids; all open holes when empty.
    start
        Name of the place where trips begin and end; the first tank, else the first gate, when absent.
    run_ml
        Expected volume of a hole in a night; from records or the assumption when absent.
    """

    trees: tuple[str, ...] = ()
    start: str | None = None
    capacity_kg: float = CAPACITY_KG
    can_kg: float = CAN_KG
    collectors: int = 1
    run_ml: float | None = None
    vessel_ml: float = VESSEL_ML
    seed: int = 1


def check(options: RoundOptions) -> None:
    """Raise a `UserError` if an option is out of bounds."""
    low, high = CAPACITY_BOUNDS_KG
    if not low <= options.capacity_kg <= high:
        raise UserError(f"a load of {options.capacity_kg:g} kg is out of bounds", f"choose {low:g} to {high:g} kg")
    if not 0 <= options.can_kg < options.capacity_kg:
        raise UserError(f"cans of {options.can_kg:g} kg leave no room", "choose less than the load carried")
    if not 1 <= options.collectors <= 20:
        raise UserError(f"{options.collectors} collectors are out of bounds", "choose 1 to 20")
    if options.run_ml is not None and not 0 < options.run_ml <= 60_000:
        raise UserError(f"a run of {options.run_ml / 1000:g} L is out of bounds", "choose up to 60 L a night")
    if not 0 < options.vessel_ml <= 60_000:
        raise UserError(f"a vessel of {options.vessel_ml / 1000:g} L is out of bounds", "choose up to 60 L")
