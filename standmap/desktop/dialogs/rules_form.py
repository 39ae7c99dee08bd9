"""What is typed into the rules dialog, as values: own figures, their faults, and what they would change. No Qt here."""

from __future__ import annotations

from collections.abc import Mapping

from standmap.errors import UserError
from standmap.rules.ruleset import PAIRS, Figure, load
from standmap.units import decimal_number

YES_NO = "yes or no"


def printed(figure: Figure) -> str:
    """Return a figure's number as it is typed: "228.6", "yes"."""
    if figure.unit == YES_NO:
        return "yes" if figure.value else "no"
    return f"{float(figure.value):g}"


def typed(value: float, figure: Figure) -> str:
    """Return an own value as the text that `own_value` reads."""
    if figure.unit == YES_NO:
        return "yes" if value else "no"
    return f"{float(value):g}"


def can_be_set(figure: Figure) -> bool:
    """Return whether the bounds leave anything but the printed figure."""
    return figure.least < figure.most


def own_value(rule_set_id: str, name: str, text: str, words: Mapping[str, bool]) -> float | None:
    """Return the own value that was typed for one figure, None where nothing was.

    Parameters
    ----------
    words
        Which words mean yes and no.

    Raises
    ------
    UserError
        If it is no value of that figure, or outside its bounds.
    """
    text = text.strip()
    if not text:
        return None
    figure = load(rule_set_id).figures[name]
    if figure.unit == YES_NO:
        if text.casefold() not in words:
            raise UserError(f"'{text[:40]}' is neither yes nor no", "write yes or no, or leave it empty")
        value = float(words[text.casefold()])
    else:
        value = float(decimal_number(text))
    load(rule_set_id, {name: value, **_out_of_the_way(rule_set_id, name)})
    return value


def _out_of_the_way(rule_set_id: str, name: str) -> dict[str, float]:
    """Return the other figure of a pair as far off as may be: whether both go together is asked of the form."""
    figures = load(rule_set_id).figures
    for low, high in PAIRS:
        if name == low and high in figures:
            return {high: figures[high].most}
        if name == high and low in figures:
            return {low: figures[low].least}
    return {}


def changed_counts(before: Mapping[str, int], after: Mapping[str, int]) -> dict[str, tuple[int, int]]:
    """Return the verdicts whose counts differ, with the count before and after."""
    return {name: (before[name], after[name]) for name in before if before[name] != after[name]}
