"""A recorded ride of the course beside the predicted one at the same power: where they part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from simulator.compare.gap import FloatArray, Gap, measure_gap
from simulator.compare.laying import (
    LINE_M,
    Stop,
    moving_times_s,
    recorded_ride,
    rests_of,
    start_speed_mps,
    trimmed,
)
from simulator.compare.onward import ridden_on
from simulator.compare.suspects import Suspect, suspects_of
from simulator.compare.where import StretchGap, corner_gaps, stretch_between, stretch_gaps
from simulator.course import Course
from simulator.errors import CannotFinish, InputError
from simulator.pacing import Demand, LaidRecording, laid_powers_w, lay_on_course
from simulator.recordings import Recording, clean_stretches
from simulator.ride import ENERGY_CAUSES, Ride, simulate
from simulator.setup import RideSetup, caution_of

SMOOTH_M = (0.0, 60.0, 200.0)
"""Recorded power is averaged over such lengths of road, the next one where the ride stalls: power
and place in a recording are seconds apart, and a stroke missed on a wall stops the model."""

GETTING_GOING_M = 60.0
"""So far behind a standstill the recorded power is averaged."""

LEAST_MEAN_W = 20.0
"""Nobody rides a course on less: the meter did not work."""

COVERED_SHARE = 0.5
"""A corner is told where the recording covers this share of it."""

WHOLE_BUT = 0.02
"""A recording that misses no more than this share of the course is of all of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Review:
    """A recorded ride beside the predicted one.

    Attributes
    ----------
    gap : Gap
        ``first`` is predicted, ``other`` recorded and without its stops: a gap above zero means
        that the recorded ride is slower. Outside of what the recording covers, the gap stays.
    from_m, to_m : float
        What the recording covers of the course.
    stretches, corners : tuple of StretchGap
        As in `Comparison`, cut to what is covered.
    stops : tuple of Stop
        In order; the predicted ride stops and starts again at the same places.
    braking : tuple of StretchGap
        Where the recording slows as nothing but brakes explains, and no corner asks for it.
    suspects : tuple of Suspect
        What to doubt, the likeliest first.
    usual_s : float
        What the doubts of all inputs would bring together, one standard deviation in s.
    recorded_w, predicted_w : float
        Mean powers over the moving time; near each other, or the model could not ride that power.
    smoothed_m : float
        Length over which the recorded power had to be averaged; 0 for none.
    demand : Demand
        The power that was ridden.
    onward_m : float
        How far the recording goes on behind the finish.
    onward_laps : int
        Laps of the course that it rides there; 0 for a way home.
    """

    recording: Recording
    gap: Gap
    from_m: float
    to_m: float
    stretches: tuple[StretchGap, ...]
    corners: tuple[StretchGap, ...]
    stops: tuple[Stop, ...]
    braking: tuple[StretchGap, ...]
    suspects: tuple[Suspect, ...]
    usual_s: float
    recorded_w: float
    predicted_w: float
    smoothed_m: float
    demand: Demand
    onward_m: float = 0.0
    onward_laps: int = 0

    @property
    def is_partial(self) -> bool:
        """Whether the recording leaves out more of the course than the metres around both lines."""
        course_m = self.gap.first.course.distance_m
        return course_m - (self.to_m - self.from_m) > WHOLE_BUT * course_m

    def covered_s(self, ride: Ride) -> float:
        """Time of one of both rides over what is told: all of it, or what the recording covers."""
        if not self.is_partial:
            return ride.time_s
        return ride.time_at_s(self.to_m) - ride.time_at_s(self.from_m)

    @property
    def told_gap_s(self) -> float:
        """Recorded minus predicted time over what is told."""
        return self.covered_s(self.gap.other) - self.covered_s(self.gap.first)

    @property
    def standing_s(self) -> float:
        """Time of all stops together."""
        return sum(stop.standing_s for stop in self.stops)


def review(*, course: Course, setup: RideSetup, recording: Recording) -> Review:
    """Lay a recorded ride of a course beside the predicted one at the same power.

    Parameters
    ----------
    course : Course
        Where it was ridden.
    setup : RideSetup
        Who rode, on what, in which weather, as far as known.
    recording : Recording
        With power, and with positions or distances.

    Returns
    -------
    Review
        See there.

    Raises
    ------
    InputError
        If the recording has no power, no place, or covers less than half of the course.
    CannotFinish
        If the model stalls at the recorded power.
    """
    laid = trimmed(lay_on_course(recording, course), recording, course)
    if laid.powers_w.mean() < LEAST_MEAN_W:
        raise InputError(
            file=recording.name,
            found=f"a mean power of {laid.powers_w.mean():.0f} W on the course",
            expected="a ride with a power meter that worked",
        )
    rests = rests_of(laid, recording)
    stops = tuple(stop for stop, _ in rests)
    stopping = replace(course, restarts_m=_restarts_m(course, stops))
    free = _unlimited(setup)
    moving_s = moving_times_s(laid, rests)
    start_mps = start_speed_mps(laid, recording)
    powers_w = laid_powers_w(laid, course)
    from_rest_m = [0.0, *stopping.restarts_m] if start_mps == 0.0 else stopping.restarts_m
    asked_w = _even_from_rest(powers_w, course, from_rest_m)
    predicted, demand, smoothed_m = _predicted((stopping, course), free, asked_w, start_mps)
    from_m = float(max(laid.places_m[0], 0.0))
    to_m = float(min(laid.places_m[-1], course.distance_m))
    recorded = recorded_ride(predicted, laid, recording, moving_s=moving_s, powers_w=powers_w)
    gap = measure_gap(predicted, recorded)
    braking = _braking(gap, laid, recording, stops)
    suspects, usual_s = suspects_of(
        gap,
        demand,
        from_m=from_m,
        to_m=to_m,
        stops_m=tuple(stop.place_m for stop in stops),
        braking=braking,
    )
    onward_m, onward_laps = ridden_on(laid, recording, course)
    covered = slice(*np.searchsorted(course.node_distances_m, [from_m, to_m]))
    return Review(
        recording=recording,
        gap=gap,
        from_m=from_m,
        to_m=to_m,
        stretches=_covered(gap, stretch_gaps(gap), from_m, to_m, least_share=0.0),
        corners=_covered(gap, corner_gaps(gap), from_m, to_m, least_share=COVERED_SHARE),
        stops=stops,
        braking=braking,
        suspects=suspects,
        usual_s=usual_s,
        recorded_w=_mean_power_w(recorded, covered),
        predicted_w=_mean_power_w(predicted, covered),
        smoothed_m=smoothed_m,
        demand=demand,
        onward_m=onward_m,
        onward_laps=onward_laps,
    )


def _mean_power_w(ride: Ride, covered: slice) -> float:
    took_s = np.diff(ride.node_times_s)[covered]
    return float(ride.powers_w[covered] @ took_s / took_s.sum())


def _unlimited(setup: RideSetup) -> RideSetup:
    """The rider without the limits that the recorded power has met already."""
    # The build's own level of caution, if it has one, but for the pedalling.
    level = caution_of(setup.rider, setup.build)
    rider = replace(
        setup.rider,
        lean_deg=level.lean_deg,
        braking_g=level.braking_g,
        cp_w=None,
        wprime_j=None,
        max_power_w=None,
        decline_after_s=None,
        decline_per_log=0.0,
        cadence_low_rpm=1.0,
        pedal_lean_deg=80.0,
        pedal_delay_s=0.0,
    )
    return replace(setup, rider=rider, build=replace(setup.build, caution=None))


def _predicted(
    courses: tuple[Course, ...], setup: RideSetup, powers_w: FloatArray, start_mps: float
) -> tuple[Ride, Demand, float]:
    """Ride at the recorded power, averaged and at last without the stops where the model stalls."""
    for course, over_m in [(courses[0], over_m) for over_m in SMOOTH_M] + [
        (course, SMOOTH_M[-1]) for course in courses[1:]
    ]:
        demand = Demand(
            powers_w=_averaged(powers_w, course, over_m),
            text="the recorded power, place by place",
            coast_mps=math.inf,
        )
        try:
            ride = simulate(course=course, setup=setup, demand=demand, start_speed_mps=start_mps)
        except CannotFinish as stalled:
            failure = stalled
            continue
        return ride, demand, over_m
    raise failure


def _even_from_rest(powers_w: FloatArray, course: Course, places_m: Sequence[float]) -> FloatArray:
    """Power with its mean over the first metres behind each standstill.

    A meter shows the first strokes a second or three late; taken word for word, a ride would creep
    off the line for half a minute.
    """
    even_w = powers_w.copy()
    for place_m in places_m:
        first, last = np.searchsorted(course.node_distances_m, [place_m, place_m + GETTING_GOING_M])
        part = slice(int(first), min(int(last), course.n_segments))
        if part.stop > part.start:
            lengths_m = course.lengths_m[part]
            even_w[part] = powers_w[part] @ lengths_m / lengths_m.sum()
    return even_w


def _averaged(powers_w: FloatArray, course: Course, over_m: float) -> FloatArray:
    if over_m <= 0.0:
        return powers_w
    nodes_m = course.node_distances_m
    works = np.append(0.0, np.cumsum(powers_w * course.lengths_m))
    middle_m = 0.5 * (nodes_m[1:] + nodes_m[:-1])
    low_m = np.maximum(middle_m - 0.5 * over_m, 0.0)
    high_m = np.minimum(middle_m + 0.5 * over_m, nodes_m[-1])
    way = np.interp(high_m, nodes_m, works) - np.interp(low_m, nodes_m, works)
    return np.asarray(way / (high_m - low_m))


def _restarts_m(course: Course, stops: tuple[Stop, ...]) -> tuple[float, ...]:
    return tuple(sorted({*course.restarts_m, *(stop.place_m for stop in stops)}))


def _covered(
    gap: Gap,
    stretches: tuple[StretchGap, ...],
    from_m: float,
    to_m: float,
    *,
    least_share: float,
) -> tuple[StretchGap, ...]:
    """Stretches cut to what the recording covers; those it covers too little of are left out."""
    told = []
    for stretch in stretches:
        start_m, end_m = max(stretch.start_m, from_m), min(stretch.end_m, to_m)
        if end_m - start_m <= least_share * (stretch.end_m - stretch.start_m):
            continue
        cut = stretch_between(
            gap,
            kind=stretch.kind,
            name=stretch.name,
            start_m=start_m,
            end_m=end_m,
            lap=stretch.lap,
        )
        told.append(
            replace(
                cut,
                mean_grade=stretch.mean_grade,
                max_grade=stretch.max_grade,
                radius_m=stretch.radius_m,
                parts_s=stretch.parts_s,
            )
        )
    return tuple(told)


def _braking(
    gap: Gap, laid: LaidRecording, recording: Recording, stops: tuple[Stop, ...]
) -> tuple[StretchGap, ...]:
    """Stretches where the recording brakes and the prediction does not."""
    if recording.speed_source != "device":
        return ()  # speeds from places are too rough to tell braking
    course = gap.first.course
    grades = np.interp(
        np.interp(recording.times_s, laid.times_s, laid.places_m),
        course.node_distances_m,
        np.append(course.grades, course.grades[-1]),
    )
    predicted = gap.first.energies_j[ENERGY_CAUSES.index("braking")] > 0.0
    found: list[StretchGap] = []
    for part in clean_stretches(
        recording,
        grades=grades,
        least_s=0.0,
        start_s=float(laid.times_s[0]),
        end_s=float(laid.times_s[-1]),
    ):
        if part.reason != "braking or traffic":
            continue
        ends_m = np.interp([part.start_s, part.end_s], laid.times_s, laid.places_m)
        start_m, end_m = float(ends_m[0]), float(ends_m[1])
        near = (course.node_distances_m[:-1] > start_m - 50.0) & (
            course.node_distances_m[1:] < end_m + 50.0
        )
        at_stop = any(start_m - LINE_M < stop.place_m < end_m + LINE_M for stop in stops)
        at_end = start_m > course.distance_m - 100.0
        if predicted[near].any() or at_stop or at_end or end_m - start_m < 1.0:
            continue
        found.append(
            stretch_between(
                gap,
                kind="braking",
                name="braking or traffic",
                start_m=start_m,
                end_m=end_m,
                lap=int(np.searchsorted(course.lap_starts_m[1:-1], start_m, side="right")) + 1,
            )
        )
    return tuple(found)
