"""Cautions for sap that is kept, boiled, fermented or frozen, each with where it is from."""

from __future__ import annotations

from dataclasses import dataclass

from standmap.stand.fates import Fate

COMMON = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Caution:
    """One sentence, and its source."""

    text: str
    source: str


SEALED = Caution(
    "never seal sap up and keep it warm: it is low in acid, and a poison neither seen nor smelt can grow in it; "
    "boiling the closed bottle in water does not make it safe",
    "National Center for Home Food Preservation, University of Georgia, For Safety's Sake; low in acid is a pH above "
    "4.6, US 21 CFR 114.3, and fresh birch sap had 5.5, Nikolajeva & Zommere, IFRJ",
)
COLD = Caution(
    "keep it in the cold, at 4 °C or less, and use it within days; or freeze it; or sour it to pH 4.6 or less by "
    "official guidance",
    "Edmunds et al. 2022, Centers for Disease Control and Prevention, doi 10.1089/fpd.2021.0023; US 21 CFR 114; "
    "the 4 °C from memory",
)
STEAM = Caution(
    "boil out of doors or under a strong draught: steam scalds, and all that water would go into the walls; keep "
    "children and animals away",
    COMMON,
)
STAY = Caution(
    "never leave a boil alone: thin syrup boils over, and thick syrup scorches within a minute, birch sooner than "
    "maple, for fructose browns first",
    COMMON,
)
REFRACTOMETER = Caution(
    "finish by refractometer: the boiling point at which maple syrup is done would leave birch near 60 °Bx, for its "
    "sugar is mostly glucose and fructose",
    "worked out by Raoult's law",
)
VENTED = Caution(
    "a ferment makes gas: give it an airlock or a loose lid, never a closed bottle, which bursts",
    COMMON,
)
FROST = Caution(
    "ice takes 9 % more room: fill to nine tenths at most, leave the lid loose until it is hard, and freeze in "
    "plastic, for frost bursts glass; freezing does not make spoiled sap good",
    "densities of ice and water; head space as for juice, National Center for Home Food Preservation; two weeks of "
    "freezing left one microbe in ten, Sancho et al. 2022, doi 10.1016/j.jfca.2021.104347",
)

KEEPING = (SEALED, COLD)
BOILING = (STEAM, STAY, REFRACTOMETER)
_OF_FATE: dict[Fate, tuple[Caution, ...]] = {
    Fate.BOILED: BOILING,
    Fate.FERMENTED: (VENTED, SEALED),
    Fate.FROZEN: (FROST,),
    Fate.GIVEN_AWAY: KEEPING,
}


def cautions_for(fate: Fate | None) -> tuple[Caution, ...]:
    """Return what is said where this becomes of sap, or while it waits."""
    return KEEPING if fate is None else _OF_FATE.get(fate, ())
