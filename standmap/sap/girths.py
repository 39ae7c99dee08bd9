"""How thick a stem was when it gave its sap."""

from __future__ import annotations

from datetime import date

from standmap.stand.snapshot import Stand


def girth_mm(stand: Stand, tree_key: str, by: date | None = None) -> float | None:
    """Return a stem's girth as measured last by a day, or first after it; None where nobody measured."""
    found = stand.newest_measurement(tree_key, by)
    if found is None:
        found = next(iter(stand.measurements_of.get(tree_key, ())), None)
    return found.girth() if found is not None else None
