"""The inputs of a comparison as rows of text: what was used, and where it came from."""

from __future__ import annotations

import dataclasses
from typing import Any

from simulator.report import words
from simulator.report.views import InputRow
from simulator.setup import Build, Rider, RideSetup, Uncertain, Weather, WindAt

# Label of each field and how many decimals a bare number of it deserves.
_LABELS: dict[str, tuple[str, int]] = {
    "mass_kg": ("Mass, kg", 2),
    "cda_m2": ("Drag area CdA at no yaw, rider included, m²", 4),
    "yaw_degs": ("Yaw angles of the drag table, °", 0),
    "cda_factors": ("Drag at these angles, relative", 3),
    "wheel_drag_area_m2": ("Drag area of the turning wheels, m²", 4),
    "crr": ("Rolling coefficient Crr", 5),
    "wheel_inertia_kgm2": ("Inertia of both wheels, kg m²", 3),
    "wheel_radius_m": ("Rolling radius, m", 3),
    "bearing_factor": ("Bearing loss, relative to standard", 2),
    "drivetrain_efficiency": ("Drivetrain efficiency", 4),
    "chainrings": ("Chainrings, teeth", 0),
    "sprockets": ("Sprockets, teeth", 0),
    "grip_dry": ("Grip of the tyres on a dry road", 2),
    "grip_wet": ("Grip of the tyres on a wet road", 2),
    "price": ("Price", 0),
    "source": ("Source", 0),
    "kit_kg": ("Kit, kg", 2),
    "bottles_kg": ("Bottles besides the kit, kg", 2),
    "caution": ("Level of caution", 0),
    "power_w": ("Power, W", 0),
    "cadence_top_rpm": ("Highest cadence, rpm", 0),
    "cadence_low_rpm": ("Lowest cadence, rpm", 0),
    "start_force_n": ("Most push along the road, N", 0),
    "coast_grade": ("Coasts on grades below, rise over run", 3),
    "coast_speed_mps": ("Coasts above, m/s", 1),
    "lean_deg": ("Largest lean, °", 0),
    "pedal_lean_deg": ("Pedals up to a lean of, °", 0),
    "braking_g": ("Hardest braking, g", 2),
    "pedal_delay_s": ("Pedals again behind a tight corner after, s", 1),
    "decline_after_s": ("Power declines from, s", 0),
    "decline_per_log": ("Decline per unit of ln(time)", 3),
    "cp_w": ("Critical power, W", 0),
    "wprime_j": ("W′, J", 0),
    "max_power_w": ("Highest power, W", 0),
    "climbing_factor": ("Drag when sitting up to climb, relative", 2),
    "climbing_grade": ("Sits up on grades from, rise over run", 3),
    "climbing_speed_mps": ("Sits up below, m/s", 1),
    "tuck_factor": ("Drag in the tuck, relative", 2),
    "tuck_grade": ("Tucks on grades below, rise over run", 3),
    "tuck_speed_mps": ("Tucks above, m/s", 1),
    "standing_factor": ("Drag out of the saddle, relative", 2),
    "standing_power_w": ("Gets out of the saddle on climbs above, W", 0),
    "temperature_degc": ("Temperature at the station, °C (0.65 °C less for each 100 m up)", 1),
    "pressure_hpa": ("Pressure, hPa", 1),
    "is_pressure_reduced": ("This pressure is", 0),
    "station_height_m": ("Height of the station above sea, m", 0),
    "humidity_pct": ("Humidity, %", 0),
    "wind_mps": ("Wind at 10 m, m/s", 1),
    "wind_from_deg": ("Wind from, ° clockwise from north", 0),
    "winds": ("Wind later on", 1),
    "gust_mps": ("Strongest gust, m/s (in the doubt only)", 1),
    "start_clock_s": ("Start at", 0),
    "rider_height_m": ("Wind wanted at a height of, m", 1),
    "is_wet": ("Road", 0),
}


def input_rows(first: RideSetup, other: RideSetup) -> tuple[InputRow, ...]:
    """All inputs of two rides, the builds side by side, then what both share."""
    rows = list(_side_by_side(first.build, other.build, group="Builds"))
    rows += _side_by_side(first.rider, other.rider, group=f"Rider: {first.rider.name}")
    rows += _side_by_side(first.weather, other.weather, group=f"Weather: {first.weather.name}")
    return tuple(rows)


def setup_rows(setup: RideSetup) -> tuple[InputRow, ...]:
    """All inputs of one ride."""
    rows = _side_by_side(setup.build, setup.build, group=f"Build: {setup.build.name}")
    rows += _side_by_side(setup.rider, setup.rider, group=f"Rider: {setup.rider.name}")
    rows += _side_by_side(setup.weather, setup.weather, group=f"Weather: {setup.weather.name}")
    return tuple(rows)


def _side_by_side(
    first: Build | Rider | Weather | object, other: object, *, group: str
) -> list[InputRow]:
    rows = []
    # The source stands last, whatever a room has added behind it.
    fields = sorted(dataclasses.fields(first), key=lambda field: field.name == "source")  # type: ignore[arg-type]
    for field in fields:
        a, b = getattr(first, field.name), getattr(other, field.name)
        if field.name == "name" and group != "Builds":
            continue
        if dataclasses.is_dataclass(a) and not isinstance(a, Uncertain):
            rows += _side_by_side(a, b, group=group)
            continue
        label, decimals = _LABELS.get(field.name, (_spaced(field.name), 4))
        one, two = value_text(field.name, a, decimals), value_text(field.name, b, decimals)
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


def input_words(label: str) -> str:
    """An uncertain input as it is listed: ``Plover: crr`` -> ``Plover: rolling coefficient``."""
    head, colon, tail = label.rpartition(": ")
    known = _LABELS.get(tail.rpartition(".")[2])
    name = tail.replace("_", " ") if known is None else known[0].split(",")[0]
    return f"{head}{colon}{name[:1].lower() if colon else name[:1].upper()}{name[1:]}"


def value_text(name: str, value: Any, decimals: int) -> str:
    """One input as text; an uncertain one with its standard uncertainty."""
    if value is None:
        return "not stated"
    if isinstance(value, Uncertain):
        if value.sd == 0.0:
            return _trimmed(value.value, decimals)
        return f"{_trimmed(value.value, decimals)} ± {_trimmed(value.sd, decimals + 1)}"
    if name == "is_wet":
        return "wet" if value else "dry"
    if name == "is_pressure_reduced":
        return "reduced to sea level" if value else "as at the station"
    if name == "start_clock_s":
        return f"{value // 3600:.0f}:{value % 3600 // 60:02.0f}"
    if name == "winds":
        return "; ".join(_wind_text(wind) for wind in value[1:]) or "as at the start"
    if isinstance(value, tuple):
        return ", ".join(_trimmed(float(item), decimals) for item in value)
    if isinstance(value, int | float):
        return _trimmed(float(value), decimals)
    return str(value) or "not stated"


def _wind_text(wind: WindAt) -> str:
    return (
        f"after {words.number(wind.time_s / 60.0)} min {words.number(wind.wind_mps, 1)} m/s "
        f"from {words.number(wind.wind_from_deg)}°"
    )


def _trimmed(value: float, decimals: int) -> str:
    text = words.number(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _spaced(name: str) -> str:
    return name.replace("_", " ").capitalize()
