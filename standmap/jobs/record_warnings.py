"""What is said at once when a tap is written down that the rules or the owner speak against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from standmap.rules.ruleset import RuleSet
from standmap.rules.verdicts import Verdict, judge_tree
from standmap.stand.ground import AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree


class TapWarnings:
    """Judges each new tap on what was known before it.

    Parameters
    ----------
    stand
        The stand before this command.
    """

    def __init__(self, stand: Stand, rules: RuleSet) -> None:
        self._stand = stand
        self._rules = rules
        self._stems: dict[str, list[Tree]] = {}
        for tree in stand.present:
            if tree.rootstock:
                self._stems.setdefault(tree.rootstock, []).append(tree)

    def about(self, tree: Tree, hole: TapHole, holes_of: Mapping[str, Sequence[TapHole]]) -> list[str]:
        """Return what speaks against a new hole, given all holes so far by tree key."""
        season = hole.season
        # Rest is the rootstock's, so the tree is judged with the stems of its root and no others.
        stems = self._stems.get(tree.rootstock, [tree]) if tree.rootstock else [tree]
        earlier = tuple(
            h
            for stem in stems
            for h in holes_of.get(stem.key, ())
            if h.season < season or (h.season == season and stem.key != tree.key)
        )
        before = Stand(
            trees=tuple(stems),
            measurements=tuple(m for stem in stems for m in self._stand.measurements_of.get(stem.key, ())),
            holes=earlier,
            areas=self._stand.areas,
        )
        judged = judge_tree(before, tree, season, self._rules)
        said = []
        if judged.verdict is not Verdict.READY:
            why = next((r.text for r in judged.reasons if r.against), "")
            said.append(f"{tree.name} was not ready in {season}: {judged.verdict} ({why})")
        permitted = [a for a in self._stand.areas if a.kind is AreaKind.PERMITTED]
        on_the_day = (a for a in permitted if (a.from_date or date.min) <= hole.made_on <= (a.until_date or date.max))
        if permitted and next(on_the_day, None) is None:
            said.append(f"{tree.name}: no permission holds on {hole.made_on.isoformat()}")
        used = sum(1 for h in holes_of.get(tree.key, ()) if h.season == season)
        if used >= judged.holes_allowed > 0:
            allowed = f"{judged.holes_allowed} allowed ({self._rules.title})"
            said.append(f"{tree.name} had {used} of the holes of {season} already, {allowed}")
        return said + self._about_figures(tree, hole)

    def _about_figures(self, tree: Tree, hole: TapHole) -> list[str]:
        if hole.kind is not Wound.HOLE:
            return []
        said = []
        for what, value, figure in (
            ("deep in the wood", hole.depth_mm, "hole_depth_most_mm"),
            ("wide", hole.bit_mm, "hole_width_mm"),
        ):
            most = self._rules.value(figure)
            if value is not None and value > most:
                said.append(f"{tree.name}: a hole {value:g} mm {what} is more than {most:g} mm ({self._rules.title})")
        return said

    def about_limits(self, new: Sequence[TapHole]) -> list[str]:
        """Return which owners' limits are passed once these holes are made."""
        limited = [a for a in self._stand.areas if a.kind is AreaKind.PERMITTED and a.most_trees is not None]
        if not limited or not new:
            return []
        from standmap.rules.ground import inside_areas

        inside = inside_areas(limited, self._stand.present)
        row = {t.key: i for i, t in enumerate(self._stand.present)}
        said = []
        for season in sorted({h.season for h in new}):
            tapped = {h.tree_key for h in (*self._stand.holes, *new) if h.season == season}
            for area, within in zip(limited, inside, strict=True):
                count = sum(1 for key in tapped if key in row and within[row[key]])
                if area.most_trees is not None and count > area.most_trees:
                    whose = f" of {area.owner}" if area.owner else ""
                    said.append(
                        f"{area.name or 'the permitted area'}: {count} trees tapped in {season}, "
                        f"the limit{whose} is {area.most_trees}"
                    )
        return said
