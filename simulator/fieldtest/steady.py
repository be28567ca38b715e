"""Times of builds at fixed power between two gates: prediction, doubt, and answers to errors."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from simulator.errors import CannotFinish
from simulator.fieldtest.roads import RUN_UP_M, Cut, FloatArray, Road, cut_road
from simulator.fieldtest.runup import run_up_speed_mps
from simulator.pacing import Demand
from simulator.ride import paired_draws, simulate_many
from simulator.setup import Build, Rider, RideSetup, Uncertain, Weather

N_DRAWS = 512
SEED = 1

LIMITS = {"mass": 12.0, "air": 0.30, "rolling": 0.012, "power": 30.0, "wind": 10.0}
"""Explanation -> how far it is followed either way: kg, m², 1, percent, m/s."""

_N_FAN = 61


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Steady:
    """A stretch ridden at fixed power, ready to ride."""

    road: Road
    cut: Cut
    rider: Rider
    weather: Weather

    def times_s(
        self, build: Build, power_w: float, draws: dict[str, FloatArray] | None = None
    ) -> FloatArray:
        """Times from gate to gate: one, or one for each draw."""
        powers_w = np.full(self.cut.course.n_segments, power_w)
        setup = RideSetup(rider=self.rider, build=build, weather=self.weather)
        found = simulate_many(
            course=self.cut.course,
            setups=[setup],
            demand=Demand(powers_w=powers_w, text=f"constant {power_w:.0f} W"),
            draws=None if draws is None else [draws],
            marks=np.array([self.cut.first, self.cut.marks[-1]]),
            start_speed_mps=run_up_speed_mps(self.cut, setup, powers_w),
        )[0]
        with np.errstate(invalid="ignore"):
            times = np.asarray(found[:, 1] - found[:, 0])
        if draws is None and not np.isfinite(times).all():
            msg = f"On {self.road.name}, {build.name} comes to a halt at {power_w:.0f} W."
            raise CannotFinish(msg)
        return times


def steady_on(road: Road, rider: Rider, weather: Weather) -> Steady:
    """Prepare a stretch: its run-up is ridden too, so that the first gate is passed at speed."""
    cut = cut_road(road, np.array([road.length_m]), run_up_m=RUN_UP_M)
    return Steady(road=road, cut=cut, rider=rider, weather=weather)


def predicted_gap(
    steady: Steady, first: Build, other: Build, power_w: float, other_power_w: float
) -> Uncertain:
    """Gap that the known differences predict, in s, with the doubt that their figures carry.

    What both builds share (rider, weather) is drawn once for both. The power is what the meter
    showed: errors of the meter are among the explanations, not here.
    """
    rider = replace(steady.rider, power_w=Uncertain(steady.rider.power_w.value))
    setups = [RideSetup(rider=rider, build=b, weather=steady.weather) for b in (first, other)]
    drawn = paired_draws(setups, n_draws=N_DRAWS, seed=SEED)
    plain = [
        float(steady.times_s(build, power)[0])
        for build, power in ((first, power_w), (other, other_power_w))
    ]
    if not drawn.labels:
        return Uncertain(plain[1] - plain[0])
    times = [
        steady.times_s(build, power, dict(draws)) if draws else np.full(N_DRAWS, alone)
        for build, power, draws, alone in zip(
            (first, other), (power_w, other_power_w), drawn.per_setup, plain, strict=True
        )
    ]
    gaps = times[1] - times[0]
    return Uncertain(plain[1] - plain[0], float(np.std(gaps[np.isfinite(gaps)], ddof=1)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """How the gap on a stretch answers to an error of one kind on the other build.

    ``sizes`` ascend; ``changes_s`` is what each adds to the gap.
    """

    sizes: FloatArray
    changes_s: FloatArray

    def needed(self, change_s: float) -> float:
        """Size that adds so much; infinite where none within the limits does."""
        order = np.argsort(self.changes_s)
        low, high = self.changes_s[order[0]], self.changes_s[order[-1]]
        if not low <= change_s <= high:
            rising = self.changes_s[-1] > self.changes_s[0]
            return float(np.inf if (change_s > high) == rising else -np.inf)
        return float(np.interp(change_s, self.changes_s[order], self.sizes[order]))

    def change_s(self, size: float) -> float:
        """What a size adds to the gap."""
        return float(np.interp(size, self.sizes, self.changes_s))


def answer_of(steady: Steady, build: Build, power_w: float, kind: str) -> Answer:
    """Ride a fan of errors of one kind; see `LIMITS` for the kinds and their units.

    ``power`` is how many percent the meter shows too much; ``wind`` a head wind at 10 m.
    """
    limit = LIMITS[kind]
    sizes = np.linspace(-limit, limit, _N_FAN)
    rider, weather = steady.rider, steady.weather
    draws: dict[str, FloatArray] = {}
    if kind == "mass":
        draws["rider.mass_kg"] = rider.mass_kg.value + sizes
    elif kind == "air":
        draws["build.cda_m2"] = np.maximum(build.cda_m2.value + sizes, 0.01)
    elif kind == "rolling":
        draws["build.crr"] = np.maximum(build.crr.value + sizes, 0.0)
    elif kind == "power":
        draws["rider.power_w"] = rider.power_w.value / (1.0 + sizes / 100.0)
    else:
        from_rad = np.radians(weather.wind_from_deg.value)
        course = steady.cut.course
        heading = np.average(np.exp(1j * course.headings_rad), weights=course.lengths_m)
        along_rad = float(np.angle(heading))
        east = weather.wind_mps.value * np.sin(from_rad) + sizes * np.sin(along_rad)
        north = weather.wind_mps.value * np.cos(from_rad) + sizes * np.cos(along_rad)
        draws["weather.wind_mps"] = np.hypot(east, north)
        draws["weather.wind_from_deg"] = np.degrees(np.arctan2(east, north))
    times = steady.times_s(build, power_w, draws)
    is_ridden = np.isfinite(times)
    base = float(steady.times_s(build, power_w)[0])
    return Answer(sizes=sizes[is_ridden], changes_s=times[is_ridden] - base)
