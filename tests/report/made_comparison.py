"""Made-up comparisons that look like real riding, by plain numpy formulas (no ride model).

They test and show the report; their times mean nothing beyond that. Names may be replaced to
try what a user could write.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from simulator.compare import (
    CauseGap,
    Comparison,
    Doubt,
    DoubtShare,
    Gap,
    StepWorth,
    StretchGap,
    measure_gap,
)
from simulator.course import Corner, Course, Feature, Finding
from simulator.course.synthetic import course_from_arrays
from simulator.ride import ENERGY_CAUSES, Ride
from simulator.setup import Build, Positions, Rider, RideSetup, Uncertain, Weather

STEP_M = 10.0
U = Uncertain


PLOVER = Build(
    name="Plover",
    mass_kg=U(8.9, 0.05),
    cda_m2=U(0.331, 0.004),
    yaw_degs=(0.0, 10.0, 20.0),
    cda_factors=(1.0, 1.0, 1.02),
    wheel_drag_area_m2=U(0.0044),
    crr=U(0.0048, 0.0003),
    wheel_inertia_kgm2=U(0.16),
    wheel_radius_m=0.336,
    bearing_factor=U(1.0),
    drivetrain_efficiency=U(0.965, 0.003),
    chainrings=(50, 34),
    sprockets=(11, 13, 15, 17, 19, 21, 24, 28),
    grip_dry=U(0.8),
    grip_wet=U(0.5),
    price=2100.0,
    source="made up for the tests",
)
GANNET = replace(
    PLOVER,
    name="Gannet",
    mass_kg=U(7.1, 0.05),
    cda_m2=U(0.318, 0.004),
    cda_factors=(1.0, 0.97, 0.95),
    crr=U(0.0039, 0.0003),
    wheel_inertia_kgm2=U(0.12),
    drivetrain_efficiency=U(0.975, 0.003),
    grip_dry=U(0.86),
    price=9400.0,
)
RIDER = Rider(
    name="Club rider",
    mass_kg=U(72.0, 0.5),
    kit_kg=U(3.0),
    power_w=U(235.0, 4.0),
    cadence_top_rpm=115.0,
    cadence_low_rpm=55.0,
    start_force_n=400.0,
    coast_grade=-0.06,
    coast_speed_mps=16.0,
    lean_deg=38.0,
    pedal_lean_deg=20.0,
    braking_g=0.4,
    positions=Positions(
        climbing_factor=1.12,
        climbing_grade=0.04,
        climbing_speed_mps=6.0,
        tuck_factor=0.88,
        tuck_grade=-0.04,
        tuck_speed_mps=13.0,
    ),
    cp_w=None,
    wprime_j=None,
    max_power_w=None,
    source="made up for the tests",
)
WEATHER = Weather(
    name="Breezy Sunday",
    temperature_degc=U(14.0, 1.0),
    pressure_hpa=U(1011.0),
    station_height_m=20.0,
    humidity_pct=U(72.0),
    wind_mps=U(5.0, 1.0),
    wind_from_deg=U(240.0, 15.0),
    rider_height_m=1.2,
    is_wet=False,
    source="made up for the tests",
)


def hilly_course(name: str = "Three Hills", length_m: float = 12_000.0) -> Course:
    """A loop with three climbs and a dozen bends, ridden once."""
    x = np.arange(0.0, length_m, STEP_M) / length_m
    height = (
        140.0 * np.exp(-(((x - 0.22) / 0.07) ** 2))
        + 95.0 * np.exp(-(((x - 0.48) / 0.05) ** 2))
        + 170.0 * np.exp(-(((x - 0.77) / 0.075) ** 2))
        + 6.0 * np.sin(40.0 * x)
    )
    grades = np.gradient(height, STEP_M)
    heading = 2.0 * np.pi * x + 0.7 * np.sin(6.0 * np.pi * x + 0.6) + 0.35 * np.sin(25.0 * x)
    bends = ((0.31, 1.3, 22.0), (0.345, -1.1, 18.0), (0.54, 1.5, 15.0), (0.63, -1.2, 20.0))
    bends += ((0.86, 1.4, 17.0), (0.885, -1.4, 25.0), (0.93, 1.0, 14.0))
    return _course(name, x * length_m, grades, heading, bends, length_m, n_laps=1)


def lapped_course(name: str = "Quay Street Criterium", n_laps: int = 6) -> Course:
    """Flat laps of 1.4 km with six corners."""
    lap_m = 1400.0
    x = np.arange(0.0, lap_m, STEP_M / 2.0) / lap_m
    grades = 0.012 * np.sin(2.0 * np.pi * x + 0.4)
    bends = tuple(
        (place, turn, radius)
        for place, turn, radius in (
            (0.10, 1.57, 14.0),
            (0.28, 1.57, 12.0),
            (0.46, 1.2, 16.0),
            (0.58, -0.8, 20.0),
            (0.72, 1.57, 11.0),
            (0.90, 1.2, 15.0),
        )
    )
    return _course(name, x * lap_m, grades, np.zeros_like(x), bends, lap_m, n_laps=n_laps)


def plain_course(name: str = "Long Drag") -> Course:
    """One climb, no corner."""
    return course_from_arrays(
        name=name, lengths_m=np.full(150, 10.0), grades=np.full(150, 0.06), start="standing"
    )


def _course(name, at_m, grades, heading, bends, lap_m, *, n_laps):
    step_m = at_m[1] - at_m[0]
    heading, radii = heading.copy(), np.full(len(at_m), np.inf)
    corners = []
    for number, (place, turn, radius) in enumerate(bends, start=1):
        apex_m, half_m = place * lap_m, abs(turn) * radius / 2.0 + step_m
        fade = np.clip((at_m - apex_m + half_m) / (2.0 * half_m), 0.0, 1.0)
        heading += turn * fade
        radii[np.abs(at_m - apex_m) <= half_m] = radius
        for lap in range(n_laps):
            from_m = lap * lap_m + apex_m
            corners.append(
                Corner(
                    number=number,
                    name=f"Corner {number}",
                    start_m=from_m - half_m,
                    apex_m=from_m,
                    end_m=from_m + half_m,
                    radius_m=radius,
                    turn_rad=turn,
                    lap=lap + 1,
                )
            )
    corners.sort(key=lambda corner: corner.apex_m)
    features = _features(np.tile(grades, n_laps), step_m, lap_m)
    made = course_from_arrays(
        name=name,
        lengths_m=np.full(len(at_m) * n_laps, step_m),
        grades=np.tile(grades, n_laps),
        headings_rad=np.concatenate([heading + lap * 0.0 for lap in range(n_laps)]),
        radii_m=np.tile(radii, n_laps),
        start="standing",
        lap_starts_m=lap_m * np.arange(n_laps + 1),
        is_closed=n_laps > 1,
        corners=corners,
        features=features,
        start_height_m=12.0,
    )
    finding = Finding(level="doubt", text="heights come from a coarse tile", distance_m=3400.0)
    easts, norths = _closed(made.node_easts_m, n_laps), _closed(made.node_norths_m, n_laps)
    return replace(made, findings=(finding,), node_easts_m=easts, node_norths_m=norths)


def _closed(values, n_laps):
    """Bend the path a little so that each lap ends where it starts."""
    n = (len(values) - 1) // n_laps
    lap = values[: n + 1] - np.linspace(0.0, values[n] - values[0], n + 1)
    return np.concatenate([np.tile(lap[:-1], n_laps), lap[:1]])


def _features(grades, step_m, lap_m):
    smooth = np.convolve(grades, np.ones(21) / 21.0, mode="same")
    kinds = np.where(smooth > 0.02, "climb", np.where(smooth < -0.02, "descent", "flat"))
    cuts = [0, *(np.flatnonzero(kinds[1:] != kinds[:-1]) + 1), len(kinds)]
    laps = {round(k * lap_m / step_m) for k in range(1, int(len(kinds) * step_m / lap_m))}
    cuts = sorted({*map(int, cuts), *laps})
    features, numbers = [], {}
    for start, end in pairwise(cuts):
        kind, lap = str(kinds[start]), int(start * step_m / lap_m) + 1
        numbers[kind, lap] = numbers.get((kind, lap), 0) + 1
        part = grades[start:end]
        features.append(
            Feature(
                kind=kind,
                name=f"{kind.capitalize()} {numbers[kind, lap]}",
                start_m=start * step_m,
                end_m=end * step_m,
                mean_grade=float(part.mean()),
                max_grade=float(part.min() if kind == "descent" else part.max()),
                ascent_m=float(part[part > 0].sum() * step_m),
                descent_m=float(-part[part < 0].sum() * step_m),
                lap=lap,
            )
        )
    return tuple(features)


def made_ride(course: Course, build: Build, *, power_w: float = 235.0) -> Ride:
    """Quasi-steady speeds, smoothed along the road and held under corner ceilings."""
    mass = build.mass_kg.value + 75.0
    wind = 2.2 * np.cos(course.headings_rad - np.radians(240.0))
    k = 0.6 * build.cda_m2.value
    resist = mass * 9.81 * (course.grades + build.crr.value)
    powers = np.where(course.grades < -0.06, 0.0, power_w)
    speed = np.full(course.n_segments, 8.0)
    for _ in range(60):  # damped Newton on k (v + w)|v + w| v + R v = eta P
        air = (speed + wind) * np.abs(speed + wind)
        rest = k * air * speed + resist * speed - build.drivetrain_efficiency.value * powers
        slope = k * (air + 2.0 * np.abs(speed + wind) * speed) + resist
        speed = np.clip(speed - 0.7 * rest / np.where(slope > 1.0, slope, 1.0), 1.5, 22.0)
    ceiling = np.sqrt(0.75 * build.grip_dry.value * 9.81 * np.append(course.radii_m, np.inf))
    square = np.append(speed, speed[-1]) ** 2
    square[0] = 1.0 if course.start == "standing" else square[0]
    allowed = ceiling**2
    for i in range(course.n_segments - 1, -1, -1):
        allowed[i] = min(allowed[i], allowed[i + 1] + 2.0 * 3.5 * course.lengths_m[i])
    for i in range(course.n_segments):
        pull = (square[i + 1] - square[i]) * (1.0 - np.exp(-course.lengths_m[i] / 90.0))
        square[i + 1] = min(square[i] + pull, allowed[i + 1])
    speeds = np.sqrt(square)
    times = np.concatenate(([0.0], np.cumsum(2.0 * course.lengths_m / (speeds[:-1] + speeds[1:]))))
    energies = np.zeros((len(ENERGY_CAUSES), course.n_segments))
    energies[0] = mass * 9.81 * course.grades * course.lengths_m
    energies[1] = k * (speeds[:-1] + wind) ** 2 * course.lengths_m
    energies[2] = mass * 9.81 * build.crr.value * course.lengths_m
    energies[4] = 0.03 * powers * np.diff(times)
    return Ride(
        course=course,
        setup=RideSetup(rider=RIDER, build=build, weather=WEATHER),
        node_times_s=times,
        node_speeds_mps=speeds,
        powers_w=powers,
        energies_j=energies,
        ceilings_mps=np.sqrt(allowed),
        node_reserves_j=None,
    )


def made_comparison(
    course: Course | None = None,
    *,
    first: Build = GANNET,
    other: Build = PLOVER,
    sd_s: float | None = 5.0,
) -> Comparison:
    """Two made-up rides, compared."""
    course = hilly_course() if course is None else course
    gap = measure_gap(made_ride(course, first), made_ride(course, other))
    stretches = tuple(_stretch(gap, f, None) for f in course.features)
    corners = tuple(_stretch(gap, c, c.radius_m) for c in course.corners)
    names = ("air", "mass", "rolling", "drivetrain", "wheels", "grip")
    weights = np.array([0.36, 0.22, 0.24, 0.11, 0.05, 0.02])
    tilt = np.array([-1.0, 1.0, 0.0, 0.2, -0.2, 0.0])
    grades = np.array([stretch.mean_grade for stretch in stretches])
    parts = np.array([stretch.gap_s for stretch in stretches])
    mix = weights + 1.6 * grades[:, None] * tilt
    matrix = parts[:, None] * mix / mix.sum(axis=1, keepdims=True)
    totals = matrix.sum(axis=0)
    texts = {
        "air": ("0.318 m²", "0.331 m²"),
        "mass": ("7.1 kg", "8.9 kg"),
        "rolling": ("Crr 0.0039", "Crr 0.0048"),
        "drivetrain": ("97.5 %", "96.5 %"),
        "wheels": ("0.12 kg m²", "0.16 kg m²"),
        "grip": ("0.86", "0.80"),
    }
    share = lambda s: s / gap.total_s if gap.total_s else 0.0  # noqa: E731
    causes = tuple(
        CauseGap(
            cause=name,
            gap_s=float(totals[i]),
            share=share(float(totals[i])),
            first_text=texts[name][0],
            other_text=texts[name][1],
        )
        for i, name in enumerate(names)
    )
    doubt = None if sd_s is None else _doubt(gap.total_s, sd_s)
    steps = (
        ("mass", "1 kg less", -4.1, -4.2),
        ("air", "0.010 m² less CdA", -7.9, -7.9),
        ("rolling", "0.0005 less Crr", -6.2, -6.3),
        ("power", "10 W more", -19.6, -20.4),
    )
    return Comparison(
        gap=gap,
        stretches=stretches,
        corners=corners,
        causes=causes,
        matrix_s=matrix,
        doubt=doubt,
        units=tuple(
            StepWorth(label=label, step=step, change_s=change_s, slope_change_s=slope_s)
            for label, step, change_s, slope_s in steps
        ),
        tie_power_w=abs(gap.total_s) / 2.0,
        power_text="235 W all the way",
    )


def _doubt(total_s: float, sd_s: float) -> Doubt:
    gaps = np.random.default_rng(1).normal(total_s, sd_s, 2000)
    low, high = np.quantile(gaps, [0.05, 0.95])
    shares = (
        DoubtShare(name="Plover: crr", share=0.41),
        DoubtShare(name="Gannet: crr", share=0.33),
        DoubtShare(name="Plover: cda_m2", share=0.17),
        DoubtShare(name="weather.wind_mps", share=0.06),
    )
    return Doubt(
        n_draws=2000,
        seed=1,
        gaps_s=gaps,
        mean_s=float(gaps.mean()),
        sd_s=float(gaps.std()),
        low_s=float(low),
        high_s=float(high),
        interval_error_s=0.05 * sd_s,
        chance_first_faster=float((gaps > 0).mean()),
        shares=shares,
    )


def _stretch(gap: Gap, place: Feature | Corner, radius_m: float | None) -> StretchGap:
    is_corner = radius_m is not None
    end_m = gap.first.course.distance_m
    lo = max(place.start_m - 40.0, 0.0) if is_corner else place.start_m
    hi = min(place.end_m + 120.0, end_m) if is_corner else place.end_m
    gap_s = gap.between_s(lo, hi)
    return StretchGap(
        kind="corner" if is_corner else place.kind,
        name=place.name,
        start_m=lo,
        end_m=hi,
        mean_grade=0.0 if is_corner else place.mean_grade,
        max_grade=0.0 if is_corner else place.max_grade,
        radius_m=radius_m,
        lap=place.lap,
        first_s=gap.first.time_at_s(hi) - gap.first.time_at_s(lo),
        other_s=gap.other.time_at_s(hi) - gap.other.time_at_s(lo),
        gap_s=gap_s,
        share=gap_s / gap.total_s if gap.total_s else 0.0,
    )
