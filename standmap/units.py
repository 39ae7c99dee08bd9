"""Units at the edges: what a person writes down, turned exactly into millimetres and millilitres.

Conversions go through `decimal`, so that nine inches are 228.6 mm and not 228.59999999999997.
Sources: the inch is 25.4 mm and the US and imperial gallons 3.785411784 L and 4.54609 L by definition
(NIST SP 811; UK Units of Measurement Regulations); both from memory.
"""

from __future__ import annotations

import math
from decimal import Decimal, InvalidOperation

from standmap.errors import UserError

MM_PER: dict[str, Decimal] = {
    "mm": Decimal(1),
    "cm": Decimal(10),
    "m": Decimal(1000),
    "in": Decimal("25.4"),
    "ft": Decimal("304.8"),
}
"""Millimetres in one of each unit of length."""

ML_PER: dict[str, Decimal] = {
    "ml": Decimal(1),
    "l": Decimal(1000),
    "imp_gal": Decimal("4546.09"),
    "us_gal": Decimal("3785.411784"),
}
"""Millilitres in one of each unit of volume; a gallon is always said whose."""


def decimal_number(text: str) -> Decimal:
    """Read a finite decimal number, with a point or a single comma as its decimal mark.

    Raises
    ------
    UserError
        If the text is not one finite number.
    """
    cleaned = text.strip().replace("\u00a0", "").replace("\u2212", "-")
    if cleaned.count(",") == 1 and "." not in cleaned:
        cleaned = cleaned.replace(",", ".")
    try:
        # Decimal would also take underscores; a measurement never holds one.
        number = Decimal(cleaned) if "_" not in cleaned else Decimal("NaN")
    except InvalidOperation:
        number = Decimal("NaN")
    # A number too large for a float is no measurement either.
    if not number.is_finite() or math.isinf(float(number)):
        raise UserError(f"'{text[:40]}' is not a number", "write it like 71.8 or 71,8")
    return number


def to_mm(number: Decimal, unit: str) -> float:
    """Return a length in millimetres; `unit` is a key of `MM_PER`."""
    return float(number * MM_PER[unit])


def to_ml(number: Decimal, unit: str) -> float:
    """Return a volume in millilitres; `unit` is a key of `ML_PER`."""
    return float(number * ML_PER[unit])


def girth_of(diameter_mm: float) -> float:
    """Return the girth in millimetres of a round stem of this diameter."""
    return math.pi * diameter_mm


def diameter_of(girth_mm: float) -> float:
    """Return the diameter in millimetres of a round stem of this girth."""
    return girth_mm / math.pi
