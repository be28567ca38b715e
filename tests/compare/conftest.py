"""Two invented builds on a made hill course, for the tests of this room."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import Corner, Feature, course_from_arrays
from simulator.setup import Build, RideSetup, Uncertain, default_rider, default_weather


def make_build(**changes):
    values = {
        "name": "Plover",
        "mass_kg": Uncertain(8.6, 0.05),
        "cda_m2": Uncertain(0.315, 0.004),
        "yaw_degs": (0.0, 10.0, 20.0),
        "cda_factors": (1.0, 0.98, 1.0),
        "wheel_drag_area_m2": Uncertain(0.0050),
        "crr": Uncertain(0.0045, 0.0002),
        "wheel_inertia_kgm2": Uncertain(0.15),
        "wheel_radius_m": 0.336,
        "bearing_factor": Uncertain(1.2),
        "drivetrain_efficiency": Uncertain(0.970, 0.003),
        "chainrings": (34, 50),
        "sprockets": (11, 13, 17, 24, 30),
        "grip_dry": Uncertain(0.75),
        "grip_wet": Uncertain(0.5),
        "price": None,
        "source": "invented",
    }
    return Build(**(values | changes))


@pytest.fixture(scope="session")
def hill_course():
    n = 1200
    s_m = (np.arange(n) + 0.5) * 5.0
    radii_m = np.full(n, np.inf)
    radii_m[380:386] = 15.0
    radii_m[700:705] = 20.0
    grades = np.where(s_m < 2000.0, 0.05, np.where(s_m < 4000.0, -0.04, 0.001))
    nodes_m = np.concatenate([[0.0], np.cumsum(np.full(n, 5.0))])
    heights_m = np.concatenate([[0.0], np.cumsum(5.0 * np.sin(np.arctan(grades)))])

    def feature(kind, start_m, end_m):
        at = np.interp([start_m, end_m], nodes_m, heights_m)
        rise_m = float(at[1] - at[0])
        return Feature(
            kind=kind,
            name=kind,
            start_m=start_m,
            end_m=end_m,
            mean_grade=rise_m / (end_m - start_m),
            max_grade=rise_m / (end_m - start_m),
            ascent_m=max(rise_m, 0.0),
            descent_m=max(-rise_m, 0.0),
            lap=1,
        )

    def corner(number, first, last, radius_m):
        return Corner(
            number=number,
            name=f"Corner {number}",
            start_m=first * 5.0,
            apex_m=(first + last) * 2.5,
            end_m=last * 5.0,
            radius_m=radius_m,
            turn_rad=(last - first) * 5.0 / radius_m,
            lap=1,
        )

    return course_from_arrays(
        lengths_m=np.full(n, 5.0),
        grades=grades,
        headings_rad=s_m / 1500.0,
        radii_m=radii_m,
        # One bound lies between nodes, as it may.
        features=(
            feature("climb", 0.0, 2000.0),
            feature("descent", 2000.0, 4001.7),
            feature("flat", 4001.7, 6000.0),
        ),
        corners=(corner(1, 380, 386, 15.0), corner(2, 700, 705, 20.0)),
        name="Made hill",
    )


@pytest.fixture(scope="session")
def plover():
    return make_build()


@pytest.fixture(scope="session")
def gannet():
    return make_build(
        name="Gannet",
        mass_kg=Uncertain(7.0, 0.05),
        cda_m2=Uncertain(0.300, 0.004),
        crr=Uncertain(0.0036, 0.0002),
        wheel_inertia_kgm2=Uncertain(0.12),
        bearing_factor=Uncertain(0.9),
        drivetrain_efficiency=Uncertain(0.978, 0.003),
        sprockets=(11, 13, 17, 24, 28),
        grip_dry=Uncertain(0.85),
    )


@pytest.fixture(scope="session")
def setups(plover, gannet):
    """Gannet first, Plover against it, one rider and one weather."""
    rider = default_rider()
    weather = replace(
        default_weather(), wind_mps=Uncertain(4.0, 1.0), wind_from_deg=Uncertain(240.0, 20.0)
    )
    return (
        RideSetup(rider=rider, build=gannet, weather=weather),
        RideSetup(rider=rider, build=plover, weather=weather),
    )


@pytest.fixture(scope="session")
def record():
    """Write a ride as a device would, a sample a second, with stops and noise of the places."""
    from simulator.files import csv_text
    from simulator.recordings import read_recording

    def write(
        ride,
        path,
        *,
        noise_m=2.0,
        stops=(),
        speeds=True,
        wait_s=0,
        after_s=0,
        until_m=None,
        meter=1.0,
    ):
        course, node_times_s = ride.course, ride.node_times_s
        clock_s = np.arange(0.0, ride.time_s + 1.0)
        for at_m, for_s in stops:
            i = int(np.searchsorted(clock_s, ride.time_at_s(at_m)))
            clock_s = np.insert(clock_s, i, np.full(for_s, ride.time_at_s(at_m)))
        clock_s = np.concatenate([np.zeros(wait_s), clock_s, np.full(after_s, clock_s[-1])])
        at_m = np.interp(clock_s, node_times_s, course.node_distances_m)
        if until_m is not None:
            clock_s, at_m = clock_s[at_m < until_m], at_m[at_m < until_m]
        works_j = np.append(0.0, np.cumsum(ride.powers_w * np.diff(node_times_s)))
        shown_w = meter * np.diff(np.interp(clock_s, node_times_s, works_j), prepend=0.0)
        rng = np.random.default_rng(7)
        off_deg = noise_m / 111_000.0 * rng.standard_normal((2, len(at_m)))
        table = {
            "time_s": np.arange(len(at_m), dtype=float),
            "lat_deg": np.interp(at_m, course.node_distances_m, course.node_lats_deg) + off_deg[0],
            "lon_deg": np.interp(at_m, course.node_distances_m, course.node_lons_deg) + off_deg[1],
            "power_w": shown_w,
        }
        if speeds:
            moves = np.diff(clock_s, append=clock_s[-1]) > 0.0
            now_mps = np.interp(clock_s, node_times_s, ride.node_speeds_mps)
            table["speed_mps"] = np.where(moves, now_mps, 0.0)
        rows = zip(*(column.tolist() for column in table.values()), strict=True)
        path.write_text(csv_text(list(table), rows), encoding="utf-8")
        return read_recording(path)

    return write
