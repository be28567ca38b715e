"""Ten recorded rides up one hill, told as `climb` and as `free`: do the intervals hold the truth?

Made days: the same hill ten times, on a track whose heights are off by what is stated
(`rise_sd_m`, 2 m for each 400 m) and stay off all day, with wind, meter, mass and the time of each
run drawn anew with their stated doubts. The rides are written as recordings and read as anybody's.
Run it with the number of days:

    NUMBA_NUM_THREADS=1 python tests/benchmarks/fieldtest_recorded_coverage.py 50

It prints the mean stated uncertainty of CdA and Crr, the spread of their errors, and the share of
days whose 90 % interval holds the truth.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.fieldtest.infer import fit_problem, make_problem
from simulator.fieldtest.recorded import read_runs
from simulator.fieldtest.testday import TestDay, load_testday
from simulator.pacing import Demand
from simulator.ride import simulate
from simulator.setup import RideSetup, Uncertain

COURSE = Path(__file__).parents[2] / "courses" / "three-hills"
FROM_M, TO_M, AROUND_M = 6800.0, 11_900.0, 500.0
PIECE_M, RISE_SD_M, WIND_SD_KMH, SCATTER = 400.0, 2.0, 4.0, 0.005
CDA_M2, CRR = 0.32, 0.0045
POWERS_W = {
    "ten powers, 220 to 310 W": (220, 235, 250, 265, 280, 295, 310, 240, 270, 300),
    "250 W each time": (250,) * 10,
}
NINE_IN_TEN = 1.645


def write_day(folder: Path, kind: str, n_runs: int) -> None:
    """Files of a day whose recordings are still to be made."""
    build = f'name = "Plover"\nmass_kg = 8\ncda_m2 = {CDA_M2}\ncrr = {CRR}\n'
    (folder / "plover.toml").write_text(build, encoding="utf-8")
    (folder / "rider.toml").write_text('name = "made"\nmass_kg = 70\n', encoding="utf-8")
    text = (
        'name = "made"\nrider = "rider.toml"\nposition_factor = 1.0\n'
        f"[wind]\nwind_kmh = 0\nsd_kmh = {WIND_SD_KMH}\n"
        '[[build]]\nfile = "plover.toml"\n'
        f'[[road]]\nname = "hill"\ncourse = "{COURSE}"\n'
        f"from_km = {FROM_M / 1000.0}\nto_km = {TO_M / 1000.0}\n"
    )
    for i in range(n_runs):
        text += f'[[run]]\nbuild = "Plover"\nkind = "{kind}"\nroad = "hill"\n'
        text += f'recording = "{i}.csv"\n'
    (folder / "day.toml").write_text(text, encoding="utf-8")


def record_day(folder: Path, day: TestDay, powers_w: tuple[int, ...], seed: int) -> None:
    """Ride a day on the true road and write what a device would."""
    rng = np.random.default_rng(seed)
    course = day.runs[0].road.course
    nodes_m = course.node_distances_m
    a, b = np.searchsorted(nodes_m, [FROM_M - AROUND_M, TO_M + AROUND_M])
    piece = (np.maximum(nodes_m[a:b] - FROM_M, 0.0) // PIECE_M).astype(int)
    off = RISE_SD_M / PIECE_M * rng.standard_normal(int(piece.max()) + 1)[piece]
    true = course_from_arrays(
        lengths_m=course.lengths_m[a:b],
        grades=course.grades[a:b] + off,
        headings_rad=course.headings_rad[a:b],
        radii_m=course.radii_m[a:b],
        shelters=course.shelters[a:b],
        roughnesses_m=course.roughnesses_m[a:b],
        crr_factors=course.crr_factors[a:b],
        start_height_m=float(course.node_heights_m[a]),
    )
    places_m, at = true.node_distances_m, slice(a, b + 1)
    meter = day.meter
    factor = (1.0 + meter.scale_sd * rng.standard_normal()) * (
        1.0 + meter.fitting_sd * rng.standard_normal()
    )
    zero_w = meter.zero_sd_w * rng.standard_normal()
    mass_kg = day.rider.mass_kg.value + day.mass_sd_kg * rng.standard_normal()
    rider = replace(day.rider, mass_kg=Uncertain(float(mass_kg)))
    for i, power_w in enumerate(powers_w):
        east, north = day.wind_sd_mps * rng.standard_normal(2)
        weather = replace(
            day.runs[0].weather,
            wind_mps=Uncertain(float(np.hypot(east, north))),
            wind_from_deg=Uncertain(float(np.degrees(np.arctan2(east, north)) % 360.0)),
        )
        ride = simulate(
            course=true,
            setup=RideSetup(rider=rider, build=day.builds[0].build, weather=weather),
            demand=Demand(
                powers_w=np.full(true.n_segments, (power_w - zero_w) / factor), text="held"
            ),
            start_speed_mps=4.0,
        )
        times_s = ride.node_times_s * (1.0 + SCATTER * rng.standard_normal())
        clock_s = np.arange(0.0, times_s[-1])
        seen_m = np.interp(clock_s, times_s, places_m)
        middle_s = 0.5 * (times_s[1:] + times_s[:-1])
        columns = (
            clock_s,
            seen_m,
            np.interp(clock_s, middle_s, np.diff(places_m) / np.diff(times_s)),
            np.full(len(clock_s), power_w),
            np.interp(seen_m, places_m, course.node_lats_deg[at]),
            np.interp(seen_m, places_m, course.node_lons_deg[at]),
        )
        lines = ["time_s,distance_m,speed_mps,power_w,lat_deg,lon_deg"]
        lines += [
            f"{s:.0f},{x:.2f},{v:.3f},{w:.0f},{y:.9f},{z:.9f}"
            for s, x, v, w, y, z in zip(*columns, strict=True)
        ]
        (folder / f"{i}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def cover(kind: str, powers_w: tuple[int, ...], n_days: int) -> str:
    """One row of the table."""
    found = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_day(folder, kind, len(powers_w))
        day = load_testday(folder / "day.toml")
        for seed in range(n_days):
            record_day(folder, day, powers_w, seed)
            try:
                fit = fit_problem(make_problem(day, read_runs(day)))
            except CannotFinish:
                continue
            i, j = fit.index("cda", "Plover"), fit.index("crr", "Plover")
            found.append(
                (fit.values[i] - CDA_M2, fit.sds[i], fit.values[j] - CRR, fit.sds[j])
            )  # fmt: skip
    errors = np.array(found)
    cells = [f"`{kind}`"]
    for k, digits in ((0, 3), (2, 4)):
        error, sd = errors[:, k], errors[:, k + 1]
        held = 100.0 * np.mean(np.abs(error) < NINE_IN_TEN * sd)
        spread = np.sqrt(np.mean(error**2))
        cells += [f"{sd.mean():.{digits}f}", f"{spread:.{digits}f}", f"{held:.0f} %"]
    return " | ".join([*cells, str(len(found))])


def main(n_days: int) -> None:
    """Print the table."""
    print(
        "| powers | kind | CdA ± stated | spread | holds | Crr ± stated | spread | holds | days |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for words, powers_w in POWERS_W.items():
        for kind in ("climb", "free"):
            print(f"| {words} | {cover(kind, powers_w, n_days)} |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]))
