"""Measures as a person reads and types them: metric, imperial (UK) or US customary; a gallon is always said whose.

Rounded to what a tape, a receiver or a can can tell, never finer. The pound is 0.45359237 kg, the yard 0.9144 m, the
mile 1609.344 m and the acre 4046.8564224 m2 by definition (NIST SP 811; from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum

from standmap.errors import UserError
from standmap.units import ML_PER, MM_PER, decimal_number

KG_PER: dict[str, Decimal] = {"kg": Decimal(1), "lb": Decimal("0.45359237")}
M_PER: dict[str, Decimal] = {
    "m": Decimal(1),
    "km": Decimal(1000),
    "ft": Decimal("0.3048"),
    "yd": Decimal("0.9144"),
    "mi": Decimal("1609.344"),
}
M2_PER: dict[str, Decimal] = {
    "m²": Decimal(1),
    "ha": Decimal(10_000),
    "sq yd": Decimal("0.83612736"),
    "sq ft": Decimal("0.09290304"),
    "acres": Decimal("4046.8564224"),
}

_WRITTEN: dict[str, str] = {
    '"': "in", "″": "in", "inch": "in", "inches": "in", "'": "ft", "′": "ft", "foot": "ft", "feet": "ft",
    "yard": "yd", "yards": "yd", "mile": "mi", "miles": "mi", "metre": "m", "metres": "m",
    "litre": "l", "litres": "l", "impgal": "imp_gal", "imp.gal": "imp_gal", "imperialgallon": "imp_gal",
    "imperialgallons": "imp_gal", "usgal": "us_gal", "us.gal": "us_gal", "usgallon": "us_gal", "usgallons": "us_gal",
    "lbs": "lb", "pound": "lb", "pounds": "lb", "imp_gal": "imp_gal", "us_gal": "us_gal",
}  # fmt: skip
_NO_OWNER = {"gal", "gals", "gallon", "gallons"}
_NAMES = {"l": "L", "ml": "mL", "imp_gal": "imp gal", "us_gal": "US gal"}
THIN_SPACE = "\u202f"


class System(StrEnum):
    """A system of units; its value is the setting's."""

    METRIC = "metric"
    IMPERIAL = "imperial"
    US = "us"


@dataclass(frozen=True, slots=True)
class Scale:
    """How one kind of measure is shown in one system.

    Attributes
    ----------
    unit
        A key of the table of its kind.
    digits
        Decimals shown.
    """

    unit: str
    digits: int


def _inches(digits: int, metric: Scale) -> dict[System, Scale]:
    return {System.METRIC: metric, System.IMPERIAL: Scale("in", digits), System.US: Scale("in", digits)}


_GIRTH = _inches(1, Scale("mm", 0))
_HEIGHT = _inches(0, Scale("cm", 0))
_DEPTH = _inches(2, Scale("mm", 0))
_MASS = {System.METRIC: Scale("kg", 1), System.IMPERIAL: Scale("lb", 1), System.US: Scale("lb", 1)}
_FAR = {System.METRIC: Scale("km", 2), System.IMPERIAL: Scale("mi", 2), System.US: Scale("mi", 2)}
_NEAR = {System.METRIC: Scale("m", 0), System.IMPERIAL: Scale("yd", 0), System.US: Scale("ft", 0)}
_FINE = {System.METRIC: Scale("m", 1), System.IMPERIAL: Scale("ft", 1), System.US: Scale("ft", 1)}
_VOLUME = {System.METRIC: Scale("l", 1), System.IMPERIAL: Scale("imp_gal", 2), System.US: Scale("us_gal", 2)}
_FINE_VOLUME = {System.METRIC: Scale("l", 2), System.IMPERIAL: Scale("imp_gal", 3), System.US: Scale("us_gal", 3)}
_LARGE_VOLUME = {System.METRIC: Scale("l", 0), System.IMPERIAL: Scale("imp_gal", 1), System.US: Scale("us_gal", 1)}
_LAND = {System.METRIC: Scale("ha", 2), System.IMPERIAL: Scale("acres", 2), System.US: Scale("acres", 2)}
_PATCH = {System.METRIC: Scale("m²", 0), System.IMPERIAL: Scale("sq yd", 0), System.US: Scale("sq ft", 0)}

FAR_FROM_M = 2000.0
LARGE_FROM_ML = 100_000.0
LAND_FROM_M2 = 5000.0
THIN_BELOW_MM = 100.0
"""Less than this in a sentence is the depth or width of a hole."""

MOST_MORE_DIGITS = 2

MEASURED_BELOW_M = 100.0

_METRES = re.compile(r"(?<![\w.,'])(\d+(?:\.\d+)?) m\b(?!')")
"""Metres as jobs write them; not those that are quoted."""

_MEASURES = re.compile(r"(?<![\w.,'])(?:(\d+(?:\.\d+)?)( to | bis ))?(\d+(?:\.\d+)?) (mm|L)\b(?!')")
"""Measures as jobs write them; not one that is quoted."""


@dataclass(frozen=True, slots=True)
class UnitsShown:
    """One person's way of reading measures.

    Attributes
    ----------
    system
        Which units.
    decimal_mark
        "." or ",".
    """

    system: System = System.METRIC
    decimal_mark: str = "."

    # Shown

    def girth(self, mm: float) -> str:
        """Return a girth or a diameter, given in millimetres: "842 mm", "33.1 in"."""
        return self._shown(mm, _GIRTH[self.system], MM_PER)

    def height(self, mm: float) -> str:
        """Return a height on the stem, given in millimetres: "90 cm", "35 in"."""
        return self._shown(mm, _HEIGHT[self.system], MM_PER)

    def depth(self, mm: float) -> str:
        """Return the depth or the width of a hole, given in millimetres: "12 mm", "0.47 in"."""
        return self._shown(mm, _DEPTH[self.system], MM_PER)

    def distance(self, m: float) -> str:
        """Return a distance on the ground, given in metres: "163 m", "178 yd" (UK), "535 ft" (US), "2.40 km"."""
        return self._shown(m, (_FAR if abs(m) >= FAR_FROM_M else _NEAR)[self.system], M_PER)

    def accuracy(self, m: float) -> str:
        """Return how well a position is known, given in metres: "± 0.4 m", "± 1.3 ft"."""
        return f"± {self._shown(m, _FINE[self.system], M_PER)}"

    def area(self, m2: float) -> str:
        """Return an area of ground, given in square metres: "850 m²", "1.25 ha", "3.09 acres"."""
        return self._shown(m2, (_LAND if m2 >= LAND_FROM_M2 else _PATCH)[self.system], M2_PER)

    def volume(self, ml: float) -> str:
        """Return a volume, given in millilitres: "2.9 L", "0.64 imp gal", "0.77 US gal"."""
        return self._shown(ml, (_LARGE_VOLUME if ml >= LARGE_FROM_ML else _VOLUME)[self.system], ML_PER)

    def fine_volume(self, ml: float) -> str:
        """Return a small volume that is worked out, given in millilitres: "0.41 L", "0.091 imp gal"."""
        return self._shown(ml, _FINE_VOLUME[self.system], ML_PER)

    def volumes(self, least_ml: float, most_ml: float) -> str:
        """Return a span of volumes, given in millilitres: "55–91 L"."""
        scale = _VOLUME[self.system]
        if self.system is System.METRIC and least_ml >= 10_000:
            scale = Scale("l", 0)
        elif most_ml >= LARGE_FROM_ML:
            scale = _LARGE_VOLUME[self.system]
        low, high = (self._number(v, scale, ML_PER) for v in (least_ml, most_ml))
        unit = _NAMES.get(scale.unit, scale.unit)
        return f"{low} {unit}" if low == high else f"{low}–{high} {unit}"

    def mass(self, kg: float) -> str:
        """Return a mass, given in kilograms: "14.9 kg", "32.8 lb"."""
        return self._shown(kg, _MASS[self.system], KG_PER)

    def in_sentence(self, sentence: str) -> str:
        """Return a finished sentence with its millimetres and litres in this person's units; metric ones stay.

        Two measures that differ in the sentence differ here, too: they are given more decimals until they do.
        """
        if self.system is System.METRIC:
            return sentence
        for more in range(MOST_MORE_DIGITS + 1):
            shown = {found[0]: self._in_sentence(found, more) for found in _MEASURES.finditer(sentence)}
            if len(set(shown.values())) == len(shown):
                break
        return _MEASURES.sub(lambda found: shown[found[0]], sentence)

    def lengths_in_sentence(self, sentence: str) -> str:
        """Return a finished sentence with its metres in this person's units, to a tenth of a foot below 100 m."""
        if self.system is System.METRIC:
            return sentence
        return _METRES.sub(lambda found: self.length(float(found[1])), sentence)

    def length(self, m: float) -> str:
        """Return a length that was measured or worked out, given in metres: "0.12 m", "3.4 m", "11.2 ft"."""
        if self.system is not System.METRIC:
            return self._shown(m, (_FINE if abs(m) < MEASURED_BELOW_M else _NEAR)[self.system], M_PER)
        digits = 2 if abs(m) < 1 else 1 if abs(m) < MEASURED_BELOW_M else 0
        return self._shown(m, Scale("m", digits), M_PER)

    def _in_sentence(self, found: re.Match[str], more: int) -> str:
        litres = found[4] == "L"
        thin = float(found[3]) < THIN_BELOW_MM
        scale = (_VOLUME if litres else _DEPTH if thin else _GIRTH)[self.system]
        scale, table = replace(scale, digits=scale.digits + more), ML_PER if litres else MM_PER
        times = 1000 if litres else 1
        least = f"{self._number(float(found[1]) * times, scale, table)}{found[2]}" if found[1] else ""
        return least + self._shown(float(found[3]) * times, scale, table)

    @property
    def girth_unit(self) -> str:
        """The unit in which girths and diameters are shown."""
        return _GIRTH[self.system].unit

    @property
    def height_unit(self) -> str:
        """The unit in which heights on the stem are shown and typed, a key of `MM_PER`."""
        return _HEIGHT[self.system].unit

    @property
    def depth_unit(self) -> str:
        """The unit in which depth and width of a hole are shown and typed, a key of `MM_PER`."""
        return _DEPTH[self.system].unit

    @property
    def distance_unit(self) -> str:
        """The unit in which distances on the ground up to `FAR_FROM_M` are shown and typed, a key of `M_PER`."""
        return _NEAR[self.system].unit

    @property
    def volume_unit(self) -> str:
        """The unit in which volumes are shown and typed."""
        return _NAMES[_VOLUME[self.system].unit]

    @property
    def mass_unit(self) -> str:
        """The unit in which masses are shown and typed."""
        return _MASS[self.system].unit

    def number(self, shown: str) -> str:
        """Return what was shown without its unit, as it is put into a field whose unit stands beside it."""
        return shown.split(" ")[0]

    # Typed

    def read_girth_mm(self, text: str) -> float:
        """Return a girth or diameter in millimetres from what was typed, with its unit or in the one shown.

        Raises
        ------
        UserError
            If it is no length.
        """
        return self._read(text, _GIRTH[self.system], MM_PER, "a length", 840.0)

    def read_height_mm(self, text: str) -> float:
        """Return a height on the stem in millimetres; see `read_girth_mm`."""
        return self._read(text, _HEIGHT[self.system], MM_PER, "a height")

    def read_depth_mm(self, text: str) -> float:
        """Return the depth or width of a hole in millimetres; see `read_girth_mm`."""
        return self._read(text, _DEPTH[self.system], MM_PER, "a depth")

    def read_distance_m(self, text: str) -> float:
        """Return a distance on the ground in metres; see `read_girth_mm`."""
        return self._read(text, _NEAR[self.system], M_PER, "a distance")

    def read_volume(self, text: str) -> tuple[float, str, str]:
        """Return a volume in millilitres, and the number and the unit (a key of `ML_PER`) as given.

        Raises
        ------
        UserError
            If it is no volume, or a gallon of nobody.
        """
        number, unit = self._parts(text, _VOLUME[self.system], ML_PER, "a volume")
        return float(number * ML_PER[unit]), str(number), unit

    def read_mass_kg(self, text: str) -> float:
        """Return a mass in kilograms; see `read_girth_mm`."""
        return self._read(text, _MASS[self.system], KG_PER, "a weight")

    def _shown(self, value: float, scale: Scale, table: dict[str, Decimal]) -> str:
        return f"{self._number(value, scale, table)} {_NAMES.get(scale.unit, scale.unit)}"

    def _number(self, value: float, scale: Scale, table: dict[str, Decimal]) -> str:
        exact = Decimal(repr(float(value))) / table[scale.unit]
        rounded = exact.quantize(Decimal(1).scaleb(-scale.digits), rounding=ROUND_HALF_EVEN)
        if not rounded:
            rounded = abs(rounded)  # no minus before a nought
        text = f"{rounded:,f}" if abs(rounded) >= 10_000 else f"{rounded:f}"
        return text.replace(",", THIN_SPACE).replace(".", self.decimal_mark)

    def _read(
        self, text: str, scale: Scale, table: dict[str, Decimal], what: str, such_as: float | None = None
    ) -> float:
        number, unit = self._parts(text, scale, table, what, such_as)
        return float(number * table[unit])

    def _parts(
        self, text: str, scale: Scale, table: dict[str, Decimal], what: str, such_as: float | None = None
    ) -> tuple[Decimal, str]:
        """Split what was typed into its number and unit; `such_as` is a likely value, for the remedy."""
        found = re.fullmatch(r"\s*([-+\u2212]?[\d.,\s\u202f\u00a0]*\d)\s*(\D*?)\s*", text)
        likely = float(table[scale.unit]) * 3 if such_as is None else such_as
        example = f"write it like {self._number(likely, scale, table)}"
        if found is None:
            raise UserError(f"'{text.strip()[:40]}' is not {what}", f"{example} {_NAMES.get(scale.unit, scale.unit)}")
        number = decimal_number(re.sub(r"[\s\u202f]", "", found[1]))
        typed = re.sub(r"\s", "", found[2]).casefold()
        if typed in _NO_OWNER and "l" in table:
            raise UserError("a gallon is imperial or US, and they differ", "write 'imp gal' or 'US gal'")
        unit = _WRITTEN.get(typed, typed) or scale.unit
        if unit not in table:
            known = ", ".join(_NAMES.get(u, u) for u in table)
            raise UserError(f"'{found[2].strip()[:40]}' is no unit of {what}", f"use one of: {known}")
        return number, unit


def file_size(size_bytes: int) -> str:
    """Return the size of a file in words: "96 kB", "12.5 MB" (powers of ten)."""
    kilobytes = size_bytes / 1000
    return f"{kilobytes:.0f} kB" if kilobytes < 1000 else f"{kilobytes / 1000:.1f} MB"
