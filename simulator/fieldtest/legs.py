"""A run -> legs: pieces of road to ride, with what was measured on each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.fieldtest.roads import (
    RUN_UP_M,
    Cut,
    FloatArray,
    cut_road,
)
from simulator.fieldtest.runup import run_up_speed_mps
from simulator.fieldtest.testday import TestDay, TestRun
from simulator.recordings import Pass, Stretch
from simulator.setup import RideSetup, Uncertain
from simulator.units import mps_from_kmh

STOPWATCH_SD_S = 0.2
"""Reaction of a hand on a stopwatch at a gate: common practice, no source."""

SPEED_SD_MPS = 0.10
"""Doubt about a recorded speed at a gate: common practice, no source."""

STOP_SD_M = 1.0
"""Doubt about where a wheel came to rest, by tape: common practice, no source."""

RISE_M = 400.0
"""Length over which errors of heights hang together: that of the pieces for which the doubt about
their rise is stated."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """A piece of road ridden once.

    Attributes
    ----------
    name : str
        As shown.
    run : TestRun
        The run that it belongs to.
    cut : Cut
        The road, with nodes at the marks.
    powers_w : (n_segments,) array
        Power as the meter showed it; 0 where the rider coasted.
    times_s : (n_marks,) array
        Times since the first gate at the marks; empty when only the stop was measured.
    stop_m : float or None
        How far it rolled.
    start : Uncertain or None
        Speed at the first gate, m/s; None where the run was at its steady speed already and
        `RUN_UP_M` before the gate is ridden too.
    timing_sd_s : float
        Doubt about each moment.
    run_up_mps : float
        Speed at which the run-up starts where ``start`` is None; not known, and faded at the gate.
    """

    name: str
    run: TestRun
    cut: Cut
    powers_w: FloatArray
    times_s: FloatArray
    stop_m: float | None
    start: Uncertain | None
    timing_sd_s: float
    run_up_mps: float

    @property
    def length_m(self) -> float:
        """From its start to its last mark."""
        nodes_m = self.cut.course.node_distances_m
        return float(nodes_m[self.cut.marks[-1]] - nodes_m[self.cut.first])

    @property
    def rise_piece(self) -> tuple[str, float]:
        """Which piece of the course's heights this leg is on, and 1, or -1 the other way.

        The error of its rise belongs to the road: who rides there again meets the same one, and
        the other way its opposite. Pieces of `RISE_M` are counted from the start of each lap; the
        middle of the leg tells which. Legs of one run that follow each other are as long at least,
        so that no two of them are on one piece.
        """
        places_m = self.cut.places_m
        middle_m = 0.5 * float(places_m[self.cut.first] + places_m[self.cut.marks[-1]])
        road, is_back = self.run.road, self.run.written.back
        at_m = road.end_m - middle_m if is_back else road.start_m + middle_m
        starts_m = road.course.lap_starts_m
        i_lap = min(int(np.searchsorted(starts_m, at_m, side="right")), len(starts_m) - 1) - 1
        piece = int((at_m - starts_m[i_lap]) // RISE_M)
        return f"{road.heights_from}, piece {piece + 1}", -1.0 if is_back else 1.0

    @property
    def observed(self) -> FloatArray:
        """What was measured: times in s, or the stop in m."""
        return self.times_s if self.stop_m is None else np.array([self.stop_m])

    def covariance(self, scatter: float) -> FloatArray:
        """Doubt about what was measured: instruments, and the run's own scatter.

        Parameters
        ----------
        scatter : float
            Standard deviation of a run's time by itself, as a share of it. It is one thing for
            the whole run, so all marks share it; so do they share the error at the first gate.

        Returns
        -------
        (n, n) array
        """
        if self.stop_m is not None:
            return np.array([[STOP_SD_M**2 + (2.0 * scatter * self.stop_m) ** 2]])
        n = len(self.times_s)
        timing = self.timing_sd_s**2 * (np.eye(n) + np.ones((n, n)))
        return np.asarray(timing + scatter**2 * np.outer(self.times_s, self.times_s))


def repeats(leg: Leg, other: Leg) -> bool:
    """Whether two legs are the same ride but for what was measured: road, build, air, power."""
    return (
        leg.run.build is other.run.build
        and leg.run.road is other.run.road
        and leg.run.written.back == other.run.written.back
        and leg.run.weather == other.run.weather
        and (leg.stop_m is None) == (other.stop_m is None)
        and np.array_equal(leg.cut.places_m, other.cut.places_m)
        and np.array_equal(leg.cut.marks, other.cut.marks)
        and leg.cut.first == other.cut.first
        and np.array_equal(leg.powers_w, other.powers_w)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunReading:
    """The legs of a run, and what should be known about it.

    ``stretches`` are those of a free ride, used or left out, in seconds from the first gate.
    ``passes`` are all passes through the gates in its recording.
    """

    run: TestRun
    legs: tuple[Leg, ...]
    doubts: tuple[str, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    repairs: tuple[str, ...] = ()
    passes: tuple[Pass, ...] = ()


def written_leg(run: TestRun, day: TestDay) -> Leg:
    """The leg of a run whose time or stop stands in the test day."""
    written = run.written
    start = written.start_kmh
    known = None
    if start is not None:
        known = Uncertain(mps_from_kmh(start.value), mps_from_kmh(start.sd))
    length_m = run.road.length_m
    cut = cut_road(
        run.road,
        np.array([length_m]),
        run_up_m=RUN_UP_M if known is None else 0.0,
        back=written.back,
    )
    power_w = (written.power_w or 0.0) if run.is_powered else 0.0
    powers_w = np.full(cut.course.n_segments, power_w)
    setup = RideSetup(rider=day.rider, build=run.build.build, weather=run.weather)
    return Leg(
        name=run.name,
        run=run,
        cut=cut,
        powers_w=powers_w,
        times_s=np.array([] if written.time_s is None else [written.time_s]),
        stop_m=written.stop_m,
        start=known,
        timing_sd_s=written.timing_sd_s or STOPWATCH_SD_S,
        run_up_mps=run_up_speed_mps(cut, setup, powers_w),
    )
