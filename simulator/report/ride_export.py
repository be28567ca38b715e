"""One ride as JSON and CSV: every array, and every number that entered it, with its unit.

Both hold enough to recompute the ride with another program; `EQUATIONS` says how.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator

import numpy as np

from simulator.files import csv_text, json_text
from simulator.pacing import Demand
from simulator.report.ride_view import RideView
from simulator.report.views import exported
from simulator.ride import ENERGY_CAUSES, Ride, RideLedger, ledger_of

_VERSION = 1
_DIGITS = 13
_NOT_WRITTEN = ("series", "plan", "bands")

RIDE_KEYS = {
    "sentence": "the result as one says it",
    "more": "further sentences",
    "pacing": "the power ridden, in words",
    "course": "name, length and climbing (m), laps, corners that limit, kind of start, sources",
    "build_name": "the build",
    "rider_name": "the rider",
    "weather_text": "the air of the day, in words",
    "time_s": "time from start to finish",
    "mean_speed_mps": "distance over time",
    "top_speed_mps": "highest speed at a node",
    "top_speed_at_m": "where it is",
    "mean_power_w": "mean power at the pedals over time",
    "fourth_power_mean_w": "fourth root of the time mean of its fourth power, unsmoothed",
    "work_j": "work at the pedals",
    "coasting_s": "time on segments whose mean power is below coasting_below_w",
    "coasting_below_w": "a tenth of steady_w, at least 1 W",
    "steady_w": "steady power that the pacing starts from",
    "fading_s": "time on segments faster than fading_from_mps",
    "fading_from_mps": "speed above which power fades: the rider's coasting speed, or the highest "
    "gear's, is near",
    "splits": "splits of one length; reserve_share is W′ left over the full one",
    "places": "climbs, descents and flats (of the last lap), as splits",
    "laps": "lap by lap, as splits; empty for a course ridden once",
    "corners": "corners that hold the ride up (of the last lap)",
    "sitting": "time in each position (amount, s)",
    "energy": "where the work at the pedals went (amount, J)",
    "corner_marks_m": "apex of each corner that limits, m from the start",
    "lap_starts_m": "start of each lap and the finish, m from the start",
    "inputs": "all inputs as used, as text with units",
    "notes": "cautions, doubts and notes about the data",
    "equations": "how the ride follows from what is below, in words",
    "given": "rider, build and weather as read, in SI; value and sd (standard uncertainty)",
    "start": "speed (m/s) and W′ (J) at the start",
    "rules": "what rider, build and weather come to, the scalars of the equations",
    "changes": "wind over time, decline of power, length of surges",
    "steps": "the course as it is ridden, an array for each field, one entry a step",
    "step_ceilings_mps": "highest speed at the start of each step, and at the finish; null: none",
    "segments": "arrays over the segments of the course: what it is like, and how it was ridden",
    "nodes": "arrays over the ends of segments, one more than segments; null ceiling: none",
}
"""Every key of the JSON's data and what it holds."""

EQUATIONS = (
    "State: distance s, speed v, W′ (J). ds/dt = v. "
    "dv/dt = two_over_mass_per_kg / 2 * net force. Every step is length_m long.",
    "Gravity force = weight_n * sin_slope. Rolling = weight_n * cos_slope * crr * crr_factor. "
    "Bearings = bearing_constant_n + bearing_slope_ns_per_m * v.",
    "Head wind = wind_from_east * axis_east + wind_from_north * axis_north; cross wind = "
    "wind_from_east * axis_north - wind_from_north * axis_east (both in m/s). a = v + head wind; "
    "V = hypot(a, cross wind); x = (cross wind / V)².",
    "Drag area = area_base_m2 + area_bend_0 * x + sum of area_bend_A * max(x, sin²(A°)) for A = "
    "5, 10, 15, 20, 30. Position = slow + (fast - slow) * b, with b = (v - position_mps) / 2 + 0.5 "
    "held to 0..1. Air = half_density_kgm3 * density_ratio * V * a * (wheel_drag_area_m2 + "
    "position * drag area).",
    "Wanted power = (power_w + surge + extra_w) * power_factor * f (extra_w is 0 here); f is the "
    "least of 1, (spin_mps - v) * inverse_spin_width_s_per_m and 5 - 5 * v² * "
    "inverse_radius_per_m * inverse_pedal_lateral_s2_per_m, not below 0. Power = the lower of "
    "wanted power and cp_w + surge_w * W′ * inverse_wprime_per_j (rules). Pedal force = power * "
    "min(1 / v, inverse_grind_s_per_m), at most start_pedal_n; of it the share 1 - efficiency is "
    "lost.",
    "Net force = efficiency * pedal force - gravity - rolling - bearings - air.",
    "W′ changes, where reserve_on is 1, with P = pedal force * v by -(P - cp_w) above cp_w and by "
    "(1 - W′ * inverse_wprime_per_j) * (cp_w - P) below it.",
    "Ceiling: v² may not exceed the straight line between the squares of step_ceilings_mps over a "
    "step; where it would, the rider pedals less or brakes and v² follows that line. The ceilings "
    "come from grip * grip_factor, lean_tan, braking_mps2 and lift_ratio. Where "
    "standstill is 1 the rider stops at the start of the step and starts again.",
    "Wind between wind_times_s is a straight line in both parts, held before and behind. From "
    "decline_after_s on, power_factor and cp_w are multiplied by 1 - decline_per_log * "
    "ln(t / decline_after_s). Surge (steps.surge_w) is on for surge_s from the start of each step "
    "whose opens_surge is 1. All three are taken at the middle of a step's time and held over it.",
)
"""What is integrated; sources stand in the program's DEVELOPERS.md."""


def ride_json(view: RideView, ride: Ride, demand: Demand) -> str:
    """One ride as JSON text: schema ``buildgap/ride``, SI units, keys explained in `about`.

    Parameters
    ----------
    view : RideView
        What is shown of it.
    ride, demand : Ride, Demand
        The ride, and the settled demand that it was ridden with.
    """
    ledger = ledger_of(ride, demand)
    data: dict[str, object] = {"about": RIDE_KEYS, **exported(view, without=_NOT_WRITTEN)}
    data["equations"] = EQUATIONS
    data["given"] = {
        "rider": ride.setup.rider,
        "build": ride.setup.build,
        "weather": ride.setup.weather,
    }
    data["start"] = {"speed_mps": ledger.start_speed_mps, "reserve_j": ledger.start_reserve_j}
    data["rules"] = ledger.rules
    data["changes"] = _changes(ledger)
    data["steps"] = {name: _short(values) for name, values in ledger.steps.items()}
    data["step_ceilings_mps"] = _short(ledger.node_ceilings_mps)
    data["segments"] = _segments(ride, demand, ledger)
    data["nodes"] = _nodes(ride)
    return json_text("ride", data, version=_VERSION)


def ride_csv(ride: Ride, demand: Demand) -> str:
    """Every segment of one ride as CSV text, under lines ``# name = value`` with the scalars.

    Positions, heights, times, speeds, ceilings and W′ are those at the end of the segment
    (``end_``), powers and energies those on it. A segment is ridden in `n_steps` equal steps whose
    fields begin with ``step_``; ``step_length_m`` times `n_steps` is its length.
    """
    ledger = ledger_of(ride, demand)
    columns = dict(_segments(ride, demand, ledger))
    columns |= {f"end_{name}": values[1:] for name, values in _nodes(ride).items()}
    first = np.searchsorted(ledger.segment_of_step, np.arange(ride.course.n_segments))
    columns |= {f"step_{name}": _short(v[first]) for name, v in ledger.steps.items()}
    head = "".join(f"# {name} = {_one_line(value)}\n" for name, value in _scalars(ride, ledger))
    return head + csv_text(list(columns), zip(*columns.values(), strict=True))


def _changes(ledger: RideLedger) -> dict[str, object]:
    return {
        "wind_times_s": ledger.wind_times_s,
        "winds_from_east_mps": ledger.winds_from_east_mps,
        "winds_from_north_mps": ledger.winds_from_north_mps,
        "decline_after_s": ledger.decline_after_s,
        "decline_per_log": ledger.decline_per_log,
        "surge_s": ledger.surge_s,
    }


def _segments(ride: Ride, demand: Demand, ledger: RideLedger) -> dict[str, list[object]]:
    course = ride.course
    starts_m = course.node_distances_m[:-1]
    lap = np.searchsorted(course.lap_starts_m[1:-1], starts_m, side="right") + 1
    columns: dict[str, list[object]] = {
        "lap": lap.tolist(),
        "n_steps": np.bincount(ledger.segment_of_step).tolist(),
        "length_m": _short(course.lengths_m),
        "grade": _short(course.grades),
        "heading_rad": _short(course.headings_rad),
        "radius_m": _short(course.radii_m),
        "shelter": _short(course.shelters),
        "roughness_m": _short(course.roughnesses_m),
        "crr_factor": _short(course.crr_factors),
        "grip_factor": _short(course.grip_factors),
        "demanded_power_w": _short(demand.powers_w),
        "power_w": _short(ride.powers_w),
    }
    for cause, energies_j in zip(ENERGY_CAUSES, ride.energies_j, strict=True):
        columns[f"{cause}_j"] = _short(energies_j)
    return columns


def _nodes(ride: Ride) -> dict[str, list[object]]:
    course = ride.course
    nodes: dict[str, list[object]] = {
        "distance_m": _short(course.node_distances_m),
        "height_m": _short(course.node_heights_m),
        "east_m": _short(course.node_easts_m),
        "north_m": _short(course.node_norths_m),
        "lat_deg": _short(course.node_lats_deg),
        "lon_deg": _short(course.node_lons_deg),
        "time_s": _short(ride.node_times_s),
        "speed_mps": _short(ride.node_speeds_mps),
        "ceiling_mps": _short(ride.ceilings_mps),
    }
    if ride.node_reserves_j is not None:
        nodes["reserve_j"] = _short(ride.node_reserves_j)
    return nodes


# A spreadsheet cuts these lines at the separators, and runs what then begins like a formula.
_FORMULA_IN_CELL = re.compile(r"([,;|]\s*)([=+\-@＝＋－＠])")


def _scalars(ride: Ride, ledger: RideLedger) -> Iterator[tuple[str, object]]:
    """Names and values of everything that is one number, text or short list."""
    yield "course.name", ride.course.name
    yield "start.speed_mps", ledger.start_speed_mps
    yield "start.reserve_j", ledger.start_reserve_j
    for name, value in ledger.rules.items():
        yield f"rules.{name}", value
    for name, values in _changes(ledger).items():
        text = " ".join(map(str, values.tolist())) if isinstance(values, np.ndarray) else values
        yield f"changes.{name}", text
    for thing in ("rider", "build", "weather"):
        yield from _flat(f"given.{thing}", getattr(ride.setup, thing))


def _flat(prefix: str, value: object) -> Iterator[tuple[str, object]]:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            yield from _flat(f"{prefix}.{field.name}", getattr(value, field.name))
    elif isinstance(value, tuple) and value and dataclasses.is_dataclass(value[0]):
        for number, item in enumerate(value):
            yield from _flat(f"{prefix}.{number}", item)
    elif isinstance(value, tuple):
        yield prefix, " ".join(map(str, value))
    else:
        yield prefix, value


def _one_line(value: object) -> str:
    """A value as text; a name from a file must not break out of its line or become a formula."""
    text = "".join(char if char.isprintable() else " " for char in str(value))
    return _FORMULA_IN_CELL.sub(r"\1'\2", text) if isinstance(value, str) else text


def _short(values: np.ndarray) -> list[object]:
    """Thirteen digits each: enough for a ride's time to a millionth of a second."""
    return [float(f"{x:.{_DIGITS}g}") for x in values.tolist()]
