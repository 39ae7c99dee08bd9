"""A plan of coming seasons looked at on the map: the verdicts as if it were kept to."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standmap.jobs.rotation import PlannedRotation
    from standmap.rules.columns import StandColumns


def columns_under(cols: StandColumns, planned: PlannedRotation) -> StandColumns:
    """Return the columns of a stand in which the trees of a plan are tapped in their seasons, and grow as it reckons.

    Trees that are no longer there are left out.
    """
    from standmap.rules.columns import also_measured, also_tapped
    from standmap.rules.decisions import measured_year

    row_of = {key: row for row, key in enumerate(cols.keys)}
    taps = [
        (row_of[tree.key], season.season)
        for season in planned.seasons
        for tree, _ in season.trees
        if tree.key in row_of
    ]
    tapped = also_tapped(cols, [row for row, _ in taps], [year for _, year in taps])
    girths = [m for m in planned.girths if m.tree_key in row_of]
    return also_measured(
        tapped, [row_of[m.tree_key] for m in girths], [measured_year(m) for m in girths], [m.girth() for m in girths]
    )


def seasons_of(planned: PlannedRotation, tree_key: str) -> tuple[int, ...]:
    """Return the seasons in which a plan taps a tree."""
    return tuple(s.season for s in planned.seasons if any(tree.key == tree_key for tree, _ in s.trees))


def plan_words(planned: PlannedRotation, tree_key: str) -> str:
    """Return what a plan means for a tree, empty where it is not tapped in it."""
    years = seasons_of(planned, tree_key)
    if not years:
        return ""
    return f"by the plan that is shown it is tapped in {', '.join(map(str, years))}; the reasons are those without it"
