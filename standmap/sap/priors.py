"""What is taken to hold of any stand before it has records of its own, each figure with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Belief:
    """A figure, how far off it may well be (one standard deviation), and where both come from."""

    value: float
    spread: float
    source: str


@dataclass(frozen=True, slots=True)
class Priors:
    """Beliefs about one hole's run in one night.

    Attributes
    ----------
    run_ml
        Median of a usual night of a usual stem; its spread is that of the logarithm.
    girth
        What the run's logarithm gains with the logarithm of the girth.
    warmth
        What it gains with each °C.
    year, day, tree, rest
        Standard deviations of the run's logarithm: from year to year, night to night, tree to tree, and what is left.
        The spread is that of their own logarithm.
    lasting
        Which part of a night's effect the next night has too; the spread is that of the logarithm of part over
        remainder.
    girth_mm, warmth_c
        The usual stem and the usual night.
    warmth_spread_c
        How unlike the nights of a season are in warmth; the spread is not used.
    """

    run_ml: Belief
    girth: Belief
    warmth: Belief
    year: Belief
    day: Belief
    tree: Belief
    rest: Belief
    lasting: Belief
    girth_mm: Belief
    warmth_c: Belief
    warmth_spread_c: Belief


GRYAZKIN = "Gryazkin et al. 2023, doi 10.37482/0536-1036-2023-4-180-189"
MIINA = "Miina and Kurttila 2022, doi 10.14214/sf.10679"

PUBLISHED = Priors(
    run_ml=Belief(
        3000.0,
        0.4,
        f"assumption between published litres a tree and day: 0.54-1.37 cool and damp, 2.50-6.22 warm and sunny "
        f"({GRYAZKIN}); 3.6 at 35 years, 4.7 at 80 (a Polish study's abstract); 5-15 (Finnish Forest Research "
        "Institute, via Seinäjoki UAS)",
    ),
    girth=Belief(
        0.7,
        0.4,
        f"the run rises with girth ({MIINA}, abstract; its coefficients were not found); how much is an assumption, "
        "and no rise at all is not ruled out: 3.6 L at 35 years and 4.7 L at 80 did not differ significantly",
    ),
    warmth=Belief(
        0.22,
        0.12,
        f"ln of the middles 3.94 L warm and sunny over 0.86 L cool and damp is 1.52 ({GRYAZKIN}); that they lie some "
        "4.5 °C apart, and that sun and dry air make a third of it, are assumptions",
    ),
    year=Belief(0.2, 0.5, f"the run varies from year to year ({MIINA}, abstract); how much is an assumption"),
    day=Belief(0.4, 0.3, "assumption: with weather known, two nights in three lie between 0.67 and 1.5 of the usual"),
    tree=Belief(0.3, 0.35, f"the run varies from tree to tree ({MIINA}, abstract); how much is an assumption"),
    rest=Belief(0.3, 0.35, "assumption"),
    lasting=Belief(0.4, 1.0, "assumption: soil and season change slowly, sun and rain from day to day"),
    girth_mm=Belief(785.0, 0.0, f"diameter 25.0 cm, the mean of the stand in {GRYAZKIN}"),
    warmth_c=Belief(
        6.0,
        0.0,
        f"assumption between +3 °C (the coolest daily mean in {GRYAZKIN}) and +10 °C, above which sap ferments",
    ),
    warmth_spread_c=Belief(2.0, 0.0, "assumption"),
)

COLDEST_C, WARMEST_C = -3.0, 10.0
"""Nights outside are taken as these: sap freezes at -3.0 °C, and after days above
+10 °C it ferments (Gryazkin et al. 2023)."""

LEAST_ML = 50.0
"""Less than this is not told from nothing: a volume of 0 says that the hole gave no more (an assumption)."""

ASSUMED_BASIS = "assumed until there are records"
"""What figures rest on where all of them come from here."""
