"""How quantities are worded where people read them: metric, or imperial.

One object says it all, `METRIC` or `IMPERIAL`. It is handed down from the option ``--units``
through the views to every table, page, picture and sentence; nothing keeps it as a state. All
methods take SI. Files are not its business: they keep the units in the names of their keys.

Rooms below the report, which do not know the choice, word a quantity as a `Phrase`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from simulator.units import (
    BAR_PER_PSI,
    DEGC_PER_DEGF,
    FREEZING_DEGF,
    KG_PER_LB,
    M_PER_FT,
    M_PER_IN,
    M_PER_MI,
    MPS_PER_KMH,
    MPS_PER_MPH,
    clock,
)

MINUS = "\N{MINUS SIGN}"
DASH = "\N{EN DASH}"


def number(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign and no sign on a rounded zero."""
    rounded = round(value, decimals) + 0.0
    text = f"{abs(rounded):,.{decimals}f}"
    return MINUS + text if rounded < 0.0 else text


def stopwatch(time_s: float) -> str:
    """A time to a tenth of a second: ``2:05.3``, ``1:02:33.0``."""
    tenths = round(abs(time_s) * 10.0)
    whole, tenth = divmod(tenths, 10)
    sign = MINUS if time_s < 0.0 and tenths else ""
    return f"{sign}{clock(whole)}.{tenth}"


def trimmed(text: str) -> str:
    """A number without zeros at the end of its decimals: ``8.60`` is ``8.6``."""
    return text.rstrip("0").rstrip(".") if "." in text else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """Units and roundings of everything that is shown.

    Names of units stand in ``…_unit``; a value in SI divided by ``m_per_distance`` and its like is
    the number shown. ``distance_decimals`` and its like are added to the decimals that kilometres
    and metres deserve; a mass has at least ``mass_decimals``. Below ``short_m`` a length is told
    in the unit of heights, and from ``tens_from_m`` on in tens of it.
    """

    name: str
    distance_unit: str
    distance_word: str
    distances_word: str
    m_per_distance: float
    distance_decimals: int
    height_unit: str
    heights_word: str
    m_per_height: float
    height_decimals: int
    short_m: float
    tens_from_m: float
    speed_unit: str
    speed_words: str
    mps_per_speed: float
    mass_unit: str
    mass_decimals: int
    kg_per_mass: float
    temperature_unit: str
    degc_per_degree: float
    freezing_degrees: float
    girth_unit: str
    m_per_girth: float
    girth_decimals: int
    pressure_unit: str
    bar_per_pressure: float
    pressure_decimals: int
    paper_unit: str
    mm_per_paper: float
    paper_decimals: int
    split_steps: tuple[float, ...]

    def distance_number(self, distance_m: float, decimals: int = 1) -> str:
        """A distance along the course without its unit; `decimals` are those of kilometres."""
        return number(distance_m / self.m_per_distance, self._distance_decimals(decimals))

    def distance(self, distance_m: float, decimals: int = 1) -> str:
        """A distance along the course: ``12.4 km``, ``7.71 mi``."""
        return f"{self.distance_number(distance_m, decimals)} {self.distance_unit}"

    def place(self, distance_m: float, decimals: int = 1) -> str:
        """A place on the course: ``km 12.4``, ``mile 7.71``."""
        return f"{self.place_word} {self.distance_number(distance_m, decimals)}"

    @property
    def place_word(self) -> str:
        """What stands before the number of a place."""
        return "km" if self.distance_unit == "km" else self.distance_word

    def span(self, start_m: float, end_m: float, decimals: int = 1) -> str:
        """Where a stretch lies, without the unit: ``12.4–15.3``."""
        start, end = (self.distance_number(x, decimals) for x in (start_m, end_m))
        return f"{start}{DASH}{end}"

    def _distance_decimals(self, decimals: int) -> int:
        """A whole number of kilometres is told as a whole number of miles, all else in hundredths.

        A tenth of a mile, 161 m, is too coarse for a place; a hundredth is 16 m.
        """
        return max(decimals, 1 + self.distance_decimals) if decimals else 0

    def length(self, length_m: float) -> str:
        """A length, in the small unit as long as that reads well: ``240 m``, ``790 ft``."""
        if abs(length_m) >= self.short_m:
            return self.distance(length_m)
        shown = length_m / self.m_per_height
        if abs(length_m) >= self.tens_from_m:
            shown = round(shown, -1)
        return f"{number(shown)} {self.height_unit}"

    def height_number(self, height_m: float, decimals: int = 0) -> str:
        """A height, radius or small distance without its unit; `decimals` are those of metres."""
        return number(height_m / self.m_per_height, max(decimals + self.height_decimals, 0))

    def height(self, height_m: float, decimals: int = 0) -> str:
        """A height, radius or small distance: ``250 m``, ``820 ft``."""
        return f"{self.height_number(height_m, decimals)} {self.height_unit}"

    def height_as_written(self, height_m: float) -> str:
        """A height or radius from a file: with a decimal only where it has one."""
        return f"{trimmed(self.height_number(height_m, 1))} {self.height_unit}"

    def speed_as_written(self, speed_mps: float) -> str:
        """A speed from a file, as `height_as_written`."""
        return f"{trimmed(self.speed_number(speed_mps))} {self.speed_unit}"

    def mass_as_written(self, mass_kg: float) -> str:
        """A mass from a file, as `height_as_written`."""
        return f"{trimmed(self.mass_number(mass_kg))} {self.mass_unit}"

    def temperature_as_written(self, temperature_degc: float) -> str:
        """A temperature from a file, as `height_as_written`."""
        return f"{trimmed(self.temperature_number(temperature_degc, 1))} {self.temperature_unit}"

    def speed_number(self, speed_mps: float, decimals: int = 1) -> str:
        """A speed without its unit."""
        return number(speed_mps / self.mps_per_speed, decimals)

    def speed(self, speed_mps: float, decimals: int = 1) -> str:
        """A speed: ``38.4 km/h``, ``23.9 mph``."""
        return f"{self.speed_number(speed_mps, decimals)} {self.speed_unit}"

    def mass_number(self, mass_kg: float, decimals: int = 2) -> str:
        """A mass without its unit; `decimals` are those of kilograms."""
        return number(mass_kg / self.kg_per_mass, max(decimals, self.mass_decimals))

    def mass(self, mass_kg: float, decimals: int = 2) -> str:
        """A mass: ``7.12 kg``, ``15.70 lb``."""
        return f"{self.mass_number(mass_kg, decimals)} {self.mass_unit}"

    def temperature_number(self, temperature_degc: float, decimals: int = 0) -> str:
        """A temperature without its unit."""
        return number(self.freezing_degrees + temperature_degc / self.degc_per_degree, decimals)

    def temperature(self, temperature_degc: float, decimals: int = 0) -> str:
        """A temperature: ``18 °C``, ``64 °F``."""
        return f"{self.temperature_number(temperature_degc, decimals)} {self.temperature_unit}"

    def warmth_number(self, difference_k: float, decimals: int = 0) -> str:
        """A difference of temperatures without its unit."""
        return number(difference_k / self.degc_per_degree, decimals)

    def girth_number(self, length_m: float, decimals: int = 3) -> str:
        """A measure of a wheel without its unit; `decimals` are those of metres."""
        return number(length_m / self.m_per_girth, decimals + self.girth_decimals)

    def tyre_pressure(self, *pressures_bar: float) -> str:
        """Of the front and the rear tyre: ``6 / 6.2 bar``, ``87 / 90 psi``."""
        shown = (
            trimmed(number(x / self.bar_per_pressure, self.pressure_decimals))
            for x in pressures_bar
        )
        return f"{' / '.join(shown)} {self.pressure_unit}"

    def paper(self, width_mm: float, height_mm: float) -> str:
        """The size of something printed: ``60 x 120 mm``, ``2.4 x 4.7 in``."""
        sides = (x / self.mm_per_paper for x in (width_mm, height_mm))
        return " x ".join(number(x, self.paper_decimals) for x in sides) + f" {self.paper_unit}"

    def per_distance(self, per_km: float) -> float:
        """What holds for each kilometre, for each unit of distance."""
        return per_km * self.m_per_distance / 1000.0

    @property
    def rate_unit(self) -> str:
        """Of seconds lost along the way: ``s per km``."""
        return f"s per {self.distance_unit}"

    @property
    def splits_m(self) -> tuple[float, ...]:
        """Round lengths of splits, in m."""
        return tuple(step * self.m_per_distance for step in self.split_steps)

    def round_length_m(self, most_m: float) -> float:
        """The largest round length (one, two or five, ten, ...) up to a length, in m."""
        steps = [step * 10.0**power for power in range(-2, 4) for step in (1.0, 2.0, 5.0)]
        small_m = [step * self.m_per_height for step in steps]
        large_m = [step * self.m_per_distance for step in steps]
        # Feet and miles share no round lengths: each where `length` uses it.
        round_m = [x for x in small_m if x < self.short_m]
        round_m += [x for x in large_m if x >= self.short_m]
        return max((x for x in round_m if x <= most_m), default=round_m[0])

    def said(self, text: str) -> str:
        """A sentence from a room below, with its quantities in these units."""
        return text.worded(self) if isinstance(text, Phrase) else text


METRIC = Measures(
    name="metric",
    distance_unit="km",
    distance_word="kilometre",
    distances_word="kilometres",
    m_per_distance=1000.0,
    distance_decimals=0,
    height_unit="m",
    heights_word="metres",
    m_per_height=1.0,
    height_decimals=0,
    short_m=995.0,
    tens_from_m=100.0,
    speed_unit="km/h",
    speed_words="kilometres an hour",
    mps_per_speed=MPS_PER_KMH,
    mass_unit="kg",
    mass_decimals=0,
    kg_per_mass=1.0,
    temperature_unit="°C",
    degc_per_degree=1.0,
    freezing_degrees=0.0,
    girth_unit="m",
    m_per_girth=1.0,
    girth_decimals=0,
    pressure_unit="bar",
    bar_per_pressure=1.0,
    pressure_decimals=2,
    paper_unit="mm",
    mm_per_paper=1.0,
    paper_decimals=0,
    split_steps=(0.5, 1.0, 2.0, 5.0, 10.0, 20.0),
)

IMPERIAL = Measures(
    name="imperial",
    distance_unit="mi",
    distance_word="mile",
    distances_word="miles",
    m_per_distance=M_PER_MI,
    distance_decimals=1,
    height_unit="ft",
    heights_word="feet",
    m_per_height=M_PER_FT,
    height_decimals=-1,
    # A quarter of a mile: below it a hundredth of a mile is too coarse.
    short_m=M_PER_MI / 4.0,
    tens_from_m=300.0 * M_PER_FT,
    speed_unit="mph",
    speed_words="miles an hour",
    mps_per_speed=MPS_PER_MPH,
    mass_unit="lb",
    mass_decimals=1,
    kg_per_mass=KG_PER_LB,
    temperature_unit="°F",
    degc_per_degree=DEGC_PER_DEGF,
    freezing_degrees=FREEZING_DEGF,
    girth_unit="in",
    m_per_girth=M_PER_IN,
    girth_decimals=-1,
    pressure_unit="psi",
    bar_per_pressure=BAR_PER_PSI,
    pressure_decimals=0,
    paper_unit="in",
    mm_per_paper=1000.0 * M_PER_IN,
    paper_decimals=1,
    split_steps=(0.5, 1.0, 2.0, 5.0, 10.0, 20.0),
)

BY_NAME = {measures.name: measures for measures in (METRIC, IMPERIAL)}
"""What the option ``--units`` takes."""


@dataclass(frozen=True, slots=True)
class Amount:
    """A quantity that is worded when it is shown: a method of `Measures` and what it takes."""

    wording: Callable[..., str]
    arguments: tuple[float, ...]

    def worded(self, measures: Measures) -> str:
        """As text."""
        return self.wording(measures, *self.arguments)


def amount(wording: Callable[..., str], *arguments: float) -> Amount:
    """``amount(Measures.height, 41.0)`` is ``41 m`` or ``135 ft``."""
    return Amount(wording, arguments)


class Phrase(str):
    """A sentence in metric units that remembers the quantities in it.

    It is a `str` and may be used as one; `Measures.said` words it in other units. What is made of
    it by adding or cutting is a plain metric `str`.

    Parameters
    ----------
    template : str
        Names in braces stand for the quantities.
    quantities : Amount, Phrase or str
        By name.
    """

    template: str
    quantities: dict[str, Amount | str]

    def __new__(cls, template: str, /, **quantities: Amount | str) -> Phrase:
        """Word it in metric units."""
        phrase = super().__new__(cls, _filled(template, quantities, METRIC))
        phrase.template = template
        phrase.quantities = quantities
        return phrase

    def worded(self, measures: Measures) -> str:
        """The sentence in other units."""
        return _filled(self.template, self.quantities, measures)

    def __reduce__(self) -> tuple[Any, ...]:
        """Copies and other processes keep the quantities."""
        return _phrase, (self.template, self.quantities)


def joined(separator: str, texts: Iterable[str]) -> Phrase:
    """Texts with a separator between them, their quantities kept."""
    named = {f"text_{i}": text for i, text in enumerate(texts)}
    return Phrase("{separator}".join(f"{{{name}}}" for name in named), **named, separator=separator)


def _phrase(template: str, quantities: dict[str, Amount | str]) -> Phrase:
    return Phrase(template, **quantities)


def _filled(template: str, quantities: dict[str, Amount | str], measures: Measures) -> str:
    return template.format_map(
        {
            name: quantity.worded(measures)
            if isinstance(quantity, Amount)
            else measures.said(quantity)
            for name, quantity in quantities.items()
        }
    )
