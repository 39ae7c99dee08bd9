"""Names of trees: what a person wrote down, turned into a species or a genus, or into neither."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Any

from standmap import assets
from standmap.errors import BugError

DOUBT = frozenset({"sp", "sp.", "spp", "spp.", "cf", "cf.", "aff", "aff.", "x", "×", "?"})
"""Words by which a name says that the species is not certain, or a hybrid."""

RANKS = frozenset({"subsp.", "ssp.", "var.", "f."})
"""Words after which a name goes on below the species."""


@dataclass(frozen=True, slots=True)
class Species:
    """A species, or a genus alone where `binomial` is absent."""

    genus: str
    binomial: str | None
    common: str

    @property
    def text(self) -> str:
        """The name in words, such as "silver birch (Betula pendula)"."""
        return f"{self.common} ({self.binomial or self.genus})"


def recognise(text: str) -> Species | None:
    """Return the tree that a recorded name means, or None where it is none that is known here.

    Takes binomials (with their authority or a rank below the species), unambiguous abbreviations such as
    "B. pendula", English names, and a genus alone. A name in doubt ("Betula cf. pendula", "Betula pendula?")
    or of a hybrid identifies to genus only.
    """
    return _recognised(_plain(text))


def known_binomials() -> frozenset[str]:
    """Return the binomials of all species known here."""
    return frozenset(s.binomial for s in _names().values() if s.binomial is not None)


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text).casefold().replace("_", " ").replace("-", " ").replace("’", "'")
    return " ".join(folded.split())


@lru_cache(maxsize=4096)
def _recognised(plain: str) -> Species | None:
    names = _names()
    if plain in names:
        return names[plain]
    words = plain.replace("?", " ? ").replace("×", " × ").split()
    if not words:
        return None
    genus = names.get(words[0])
    if DOUBT.intersection(words):
        if genus is None:  # "silver birch?"
            meant = names.get(" ".join(w for w in words if w not in DOUBT))
            genus = None if meant is None else names[meant.genus.casefold()]
        return genus if genus is not None and genus.binomial is None else None
    if len(words) >= 4 and words[2] in RANKS:
        return names.get(" ".join(words[:2]))
    return None


@cache
def _names() -> Mapping[str, Species]:
    path = assets.resource("species.toml")
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
        pairs = [*_genus_names(raw), *_species_names(raw)]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BugError(f"{path.name}: {error!r}") from error
    names: dict[str, Species] = {}
    for name, species in pairs:
        if names.setdefault(_plain(name), species) != species:
            raise BugError(f"{path.name}: '{name}' means two trees")
    return MappingProxyType(names)


def _genus_names(raw: dict[str, Any]) -> Iterator[tuple[str, Species]]:
    for row in raw["genus"]:
        genus = Species(genus=row["name"], binomial=None, common=row["common"])
        for name in (row["name"], row["common"], *row["names"]):
            yield name, genus


def _species_names(raw: dict[str, Any]) -> Iterator[tuple[str, Species]]:
    for row in raw["species"]:
        genus, epithet = row["binomial"].split()
        species = Species(genus=genus, binomial=row["binomial"], common=row["common"])
        yield f"{row['binomial']} {row['authority']}", species
        yield f"{genus[0]}. {epithet}", species
        for name in (row["binomial"], row["common"], *row["names"], *row["synonyms"]):
            yield name, species
