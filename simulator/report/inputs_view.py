"""The inputs of a comparison as rows of text: what was used, and where it came from."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from operator import attrgetter
from typing import Any

from simulator.measures import METRIC, Measures, trimmed
from simulator.report import words
from simulator.report.views import InputRow
from simulator.ride import uncertain_inputs
from simulator.setup import (
    DEFAULTS_SOURCE,
    Build,
    CautionLevel,
    Rider,
    RideSetup,
    Uncertain,
    Weather,
    WindAt,
    caution_of,
)
from simulator.units import clock

Worded = Callable[[Measures, float, int], str]


def _plain(_: Measures, value: float, decimals: int) -> str:
    return words.number(value, decimals)


def _percent(_: Measures, value: float, decimals: int) -> str:
    return words.number(100.0 * value, decimals)


# Label of each field, how many decimals a bare number of it deserves in metric units, its kind.
_LABELS: dict[str, tuple[str, int, str]] = {
    "mass_kg": ("Mass, {unit}", 2, "mass"),
    "cda_m2": ("Drag area CdA at no yaw, rider included, m²", 4, "plain"),
    "yaw_degs": ("Yaw angles of the drag table, °", 0, "plain"),
    "cda_factors": ("Drag at these angles, relative", 3, "plain"),
    "wheel_drag_area_m2": ("Drag area of the turning wheels, m²", 4, "plain"),
    "crr": ("Rolling coefficient Crr", 5, "plain"),
    "wheel_inertia_kgm2": ("Inertia of both wheels, kg m²", 3, "plain"),
    "wheel_radius_m": ("Rolling radius, {unit}", 3, "girth"),
    "bearing_factor": ("Bearing loss, relative to standard", 2, "plain"),
    "drivetrain_efficiency": ("Drivetrain efficiency", 4, "plain"),
    "chainrings": ("Chainrings, teeth", 0, "plain"),
    "sprockets": ("Sprockets, teeth", 0, "plain"),
    "grip_dry": ("Grip of the tyres on a dry road", 2, "plain"),
    "grip_wet": ("Grip of the tyres on a wet road", 2, "plain"),
    "price": ("Price", 0, "plain"),
    "source": ("Source", 0, "plain"),
    "kit_kg": ("Kit, {unit}", 2, "mass"),
    "bottles_kg": ("Bottles besides the kit, {unit}", 2, "mass"),
    "caution": ("Level of caution", 0, "plain"),
    "power_w": ("Power, W", 0, "plain"),
    "cadence_top_rpm": ("Highest cadence, rpm", 0, "plain"),
    "cadence_low_rpm": ("Lowest cadence, rpm", 0, "plain"),
    "start_force_n": ("Most push along the road, N", 0, "plain"),
    "coast_grade": ("Coasts on grades below, %", 1, "grade"),
    "coast_speed_mps": ("Coasts above, {unit}", 1, "speed"),
    "lean_deg": ("Largest lean, °", 0, "plain"),
    "pedal_lean_deg": ("Pedals up to a lean of, °", 0, "plain"),
    "braking_g": ("Hardest braking, g", 2, "plain"),
    "pedal_delay_s": ("Pedals again behind a tight corner after, s", 1, "plain"),
    "decline_after_s": ("Power declines from", 0, "plain"),
    "decline_per_log": ("Decline per unit of ln(time)", 3, "plain"),
    "cp_w": ("Critical power, W", 0, "plain"),
    "wprime_j": ("W′, J", 0, "plain"),
    "cp_sd_w": ("Doubt of critical power, W", 1, "plain"),
    "wprime_sd_j": ("Doubt of W′, J", 0, "plain"),
    "max_power_w": ("Highest power, W", 0, "plain"),
    "climbing_factor": ("Drag when sitting up to climb, relative", 2, "plain"),
    "climbing_grade": ("Sits up on grades from, %", 1, "grade"),
    "climbing_speed_mps": ("Sits up below, {unit}", 1, "speed"),
    "tuck_factor": ("Drag in the tuck, relative", 2, "plain"),
    "tuck_grade": ("Tucks on grades below, %", 1, "grade"),
    "tuck_speed_mps": ("Tucks above, {unit}", 1, "speed"),
    "standing_factor": ("Drag out of the saddle, relative", 2, "plain"),
    "standing_power_w": ("Gets out of the saddle on climbs above, W", 0, "plain"),
    "temperature_degc": ("Temperature at the station, {unit}{lapse}", 1, "temperature"),
    "pressure_hpa": ("Pressure, hPa", 1, "plain"),
    "is_pressure_reduced": ("This pressure is", 0, "plain"),
    "station_height_m": ("Height of the station above sea, {unit}", 0, "height"),
    "humidity_pct": ("Humidity, %", 0, "plain"),
    "wind_mps": ("Wind at {mast}, {unit}", 1, "speed"),
    "wind_from_deg": ("Wind from, ° clockwise from north", 0, "plain"),
    "winds": ("Wind later on", 1, "plain"),
    "gust_mps": ("Strongest gust, {unit} (in the doubt only)", 1, "speed"),
    "start_clock_s": ("Start at", 0, "plain"),
    "rider_height_m": ("Wind wanted at a height of, {unit}", 1, "height"),
    "is_wet": ("Road", 0, "plain"),
}

_MAST_M = 10.0
"""Height above open ground for which winds are forecast."""

# Unit, number and standard uncertainty of each kind of quantity, as `Measures` has them.
_KINDS: dict[str, tuple[Callable[[Measures], str], Worded, Worded]] = {
    "plain": (lambda _: "", _plain, _plain),
    "grade": (lambda _: "%", _percent, _percent),
    "mass": (attrgetter("mass_unit"), Measures.mass_number, Measures.mass_number),
    "height": (attrgetter("height_unit"), Measures.height_number, Measures.height_number),
    "girth": (attrgetter("girth_unit"), Measures.girth_number, Measures.girth_number),
    "speed": (attrgetter("speed_unit"), Measures.speed_number, Measures.speed_number),
    "temperature": (
        attrgetter("temperature_unit"),
        Measures.temperature_number,
        Measures.warmth_number,
    ),
}


def input_rows(
    first: RideSetup, other: RideSetup, measures: Measures = METRIC
) -> tuple[InputRow, ...]:
    """All inputs of two rides, the builds side by side, then what both share."""
    pairs = (
        (first.build, other.build, "Builds"),
        (first.rider, other.rider, f"Rider: {first.rider.name}"),
        (first.weather, other.weather, f"Weather: {first.weather.name}"),
    )
    return tuple(row for a, b, group in pairs for row in _side_by_side(a, b, measures, group=group))


def setup_rows(setup: RideSetup, measures: Measures = METRIC) -> tuple[InputRow, ...]:
    """All inputs of one ride."""
    things = (
        (setup.build, f"Build: {setup.build.name}"),
        (setup.rider, f"Rider: {setup.rider.name}"),
        (setup.weather, f"Weather: {setup.weather.name}"),
    )
    return tuple(
        row for thing, group in things for row in _side_by_side(thing, thing, measures, group=group)
    )


def caution_sentence(rider: Rider, builds: Sequence[Build]) -> str:
    """What of skill and caution was used, and whether one build got more of it than another."""
    level = f"“{rider.caution}”: " if rider.caution else ""
    apart = [build for build in builds if build.caution is not None]
    same = "as the rider's file has it" if apart else "the same on every build"
    sentence = f"Skill and caution are {same} ({level}{_caution_text(rider)})"
    for build in apart:
        told = _caution_text(caution_of(rider, build))
        sentence += f", but “{build.caution}” on {build.name}, as its file asks ({told})"
    return sentence + "."


def no_doubt_sentence(*setups: RideSetup) -> str:
    """Why a gap stands without a doubt: nothing is uncertain, or no draws were made."""
    things = [thing for s in setups for thing in (s.rider, s.build, s.weather)]
    is_exact = not any(uncertain_inputs("", thing) for thing in things)
    return words.NO_DOUBT_STATED if is_exact else words.NO_DRAWS_MADE


def defaults_sentence(setup: RideSetup, measures: Measures) -> str:
    """What stands in for a rider or a weather that was not given; empty where both were."""
    return taken_sentence(setup.rider, setup.weather, measures)


def taken_sentence(rider: Rider, weather: Weather, measures: Measures) -> str:
    """As `defaults_sentence`, of a rider and a weather."""
    sentences = []
    if rider.source == DEFAULTS_SOURCE:
        mass = measures.mass_as_written(rider.mass_kg.value)
        kit = measures.mass_as_written(rider.kit_kg.value)
        sentences.append(f"No rider was given: one of {mass}, with {kit} carried, is taken.")
    if weather.source == DEFAULTS_SOURCE:
        warmth = measures.temperature(weather.temperature_degc.value)
        sentences.append(f"No weather was given: {warmth}, no wind and a dry road are taken.")
    return " ".join(sentences)


def _caution_text(level: Rider | CautionLevel) -> str:
    return (
        f"leaning up to {words.number(level.lean_deg)}°, pedalling up to "
        f"{words.number(level.pedal_lean_deg)}° of lean, braking up to "
        f"{words.number(level.braking_g, 2)} g"
    )


def _side_by_side(
    first: Build | Rider | Weather | object, other: object, measures: Measures, *, group: str
) -> list[InputRow]:
    rows = []
    # The source stands last, whatever a room has added behind it.
    fields = sorted(dataclasses.fields(first), key=lambda field: field.name == "source")  # type: ignore[arg-type]
    for field in fields:
        a, b = getattr(first, field.name), getattr(other, field.name)
        if field.name == "name" and group != "Builds":
            continue
        if dataclasses.is_dataclass(a) and not isinstance(a, Uncertain):
            rows += _side_by_side(a, b, measures, group=group)
            continue
        label, decimals, kind = _label(field.name, measures)
        one, two = (_value_text(field.name, x, decimals, kind, measures) for x in (a, b))
        both = group == "Builds" or one != two
        rows.append(
            InputRow(
                group=group,
                label=label,
                first_text=one,
                other_text=two if both else None,
                is_different=a != b,
            )
        )
    return rows


def _label(name: str, measures: Measures) -> tuple[str, int, str]:
    """Label with its unit, decimals and kind of a field."""
    label, decimals, kind = _LABELS.get(name, (_spaced(name), 4, "plain"))
    text = label.format(
        unit=_KINDS[kind][0](measures), lapse=_lapse(measures), mast=measures.height(_MAST_M)
    )
    return text, decimals, kind


def _lapse(measures: Measures) -> str:
    """How temperature falls with height [ISO2533], over a round rise."""
    rise = 100.0 if measures is METRIC else 1000.0
    fall_k = 0.0065 * rise * measures.m_per_height
    return (
        f" ({measures.warmth_number(fall_k, 2)} {measures.temperature_unit} less for each "
        f"{words.number(rise)} {measures.height_unit} up)"
    )


def input_words(label: str, measures: Measures = METRIC) -> str:
    """An uncertain input as it is listed: ``Plover: crr`` -> ``Plover: rolling coefficient``."""
    head, colon, tail = label.rpartition(": ")
    field = tail.rpartition(".")[2]
    is_known = field in _LABELS
    name = _label(field, measures)[0].split(",")[0] if is_known else tail.replace("_", " ")
    return f"{head}{colon}{name[:1].lower() if colon else name[:1].upper()}{name[1:]}"


def _value_text(name: str, value: Any, decimals: int, kind: str, measures: Measures) -> str:
    """One input as text; an uncertain one with its standard uncertainty."""
    if value is None:
        return "as the rider" if name == "caution" else "not stated"
    _, shown, shown_sd = _KINDS[kind]
    if isinstance(value, Uncertain):
        if value.sd == 0.0:
            return trimmed(shown(measures, value.value, decimals))
        sd = shown_sd(measures, value.sd, decimals + 1)
        return f"{trimmed(shown(measures, value.value, decimals))} ± {trimmed(sd)}"
    if name == "is_wet":
        return "wet" if value else "dry"
    if name == "is_pressure_reduced":
        return "reduced to sea level" if value else "as at the station"
    if name == "start_clock_s":
        return f"{value // 3600:.0f}:{value % 3600 // 60:02.0f}"
    if name == "decline_after_s":
        return clock(value)
    if name == "winds":
        return "; ".join(_wind_text(wind, measures) for wind in value[1:]) or "as at the start"
    if isinstance(value, tuple):
        return ", ".join(trimmed(shown(measures, float(item), decimals)) for item in value)
    if isinstance(value, int | float):
        return trimmed(shown(measures, float(value), decimals))
    return str(value) or "not stated"


def _wind_text(wind: WindAt, measures: Measures) -> str:
    return (
        f"after {clock(wind.time_s)} {measures.speed(wind.wind_mps, 0)} "
        f"from {words.number(wind.wind_from_deg)}°"
    )


def _spaced(name: str) -> str:
    return name.replace("_", " ").capitalize()
