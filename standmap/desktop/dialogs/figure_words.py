"""The figures of a rule set in plain words."""

from __future__ import annotations

from standmap.desktop.words import said, tr
from standmap.rules.ruleset import UNITS


def figure_title(name: str) -> str:
    """Return what a figure is about; one that has no words of its own keeps its name."""
    titles = {
        "least_diameter_mm": tr("least diameter of a stem"),
        "measuring_height_mm": tr("height at which it is measured"),
        "return_after_years": tr("a tapped tree returns after"),
        "hole_width_mm": tr("width of a hole"),
        "hole_depth_least_mm": tr("least depth of a hole, in the wood"),
        "hole_depth_most_mm": tr("greatest depth of a hole, in the wood"),
        "hole_height_least_mm": tr("lowest hole above ground"),
        "hole_height_most_mm": tr("highest hole above ground"),
        "spacing_mm": tr("distance from an old hole"),
        "plug": tr("plug the hole"),
        "tube_most_days": tr("longest that a tube stays in"),
        "plug_within_days": tr("plugged within, once the tube is out"),
        "trim_after_days": tr("the plug is trimmed after"),
        "look_after_seasons": tr("a look whether it closed after"),
        "closes_after_seasons": tr("a wound is expected to close within"),
        "unfit_open_after_years": tr("unfit where a wound is seen open after more than"),
        "old_measurement_years": tr("a girth is old after"),
        "mistake_sigma_m": tr("error of a position of unknown accuracy"),
    }
    return titles.get(name, name)


def in_plain_words(sentence: str) -> str:
    """Return a sentence with the names of figures in it put as their titles."""
    for name in UNITS:
        sentence = sentence.replace(name, figure_title(name))
    return sentence


def unit_word(unit: str) -> str:
    """Return a unit as it stands beside a number; none for a figure that is yes or no."""
    return "" if unit == "yes or no" else said(unit)
