"""What is known of one tree, in the order it happened."""

from __future__ import annotations

from datetime import date

from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree


def history_of(stand: Stand, tree: Tree) -> list[str]:
    """Return a tree's history as lines of text, oldest first; of one day first what was made, then what came of it."""
    lines: list[tuple[date, int, str]] = []
    for measured in stand.measurements_of.get(tree.key, []):
        what = "girth" if measured.girth_mm is not None else "diameter"
        lines.append((measured.measured_on or date.min, 0, f"{what} {measured.given} {measured.given_unit}"))
    for hole in stand.holes_of.get(tree.key, []):
        lines.append((hole.made_on, 1, f"{hole.kind} {hole.number} made"))
        lines.extend(
            (taken.collected_on, 2, f"{taken.volume_ml / 1000:.2f} L from {hole.kind} {hole.number}")
            for taken in stand.collections_of.get(hole.key, [])
        )
    lines.extend(
        (seen.observed_on, 3, f"{seen.what}{': ' + seen.note if seen.note else ''}")
        for seen in stand.observations_of.get(tree.key, [])
    )
    ordered = sorted(lines, key=lambda line: line[:2])
    return [f"{day.isoformat() if day != date.min else 'undated   '}  {text}" for day, _, text in ordered]
