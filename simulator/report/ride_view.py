"""What is shown of one ride, as plain frozen records; everything else renders the same view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.measures import METRIC, Measures
from simulator.pacing import Demand
from simulator.report import words
from simulator.report.gap_view import ENERGY_WORDS, kept_nodes
from simulator.report.inputs_view import caution_sentence, defaults_sentence, setup_rows
from simulator.report.ride_rows import (
    CornerPass,
    FadeRow,
    SplitRow,
    corner_passes,
    fade_row,
    is_limiting,
    lap_rows_of,
    split_rows,
    stretch_row,
)
from simulator.report.views import BandView, CourseView, InputRow, NoteView, PlanView
from simulator.ride import ENERGY_CAUSES, Ride, sitting_times_s
from simulator.setup import Weather
from simulator.units import clock

FloatArray = NDArray[np.float64]

COASTING_SHARE, LEAST_W = 0.1, 1.0
"""Below this share of the steady power, and below this power, a segment counts as coasted."""

_TOLD_S = 0.5

_SETTLED_S = 0.1
_N_LEGS = 240

SITTING_WORDS = {
    "drops": "Hands in the drops",
    "climbing": "Sitting up",
    "standing": "Out of the saddle",
    "tuck": "Tucked low",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """A part of a whole: time in a position, work into a cause; ``share`` is of the whole."""

    key: str
    label: str
    amount: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RideSeries:
    """The ride along the course, thinned for drawing; extremes are kept.

    Powers and ceilings are those at and behind the place; a ceiling is None where nothing limits.
    """

    distances_m: tuple[float, ...]
    heights_m: tuple[float, ...]
    grades: tuple[float, ...]
    speeds_mps: tuple[float, ...]
    ceilings_mps: tuple[float | None, ...]
    powers_w: tuple[float, ...]
    reserve_shares: tuple[float, ...] | None
    easts_m: tuple[float, ...]
    norths_m: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RideView:
    """All that is shown of one ride, worded in `measures`; `in_si` is the same for JSON.

    Start reading at `make_ride_view`.
    """

    sentence: str
    more: tuple[str, ...]
    pacing: str
    course: CourseView
    build_name: str
    rider_name: str
    weather_text: str
    time_s: float
    mean_speed_mps: float
    top_speed_mps: float
    top_speed_at_m: float
    mean_power_w: float
    fourth_power_mean_w: float
    work_j: float
    coasting_s: float
    coasting_below_w: float
    steady_w: float
    fading_s: float
    fading_from_mps: float
    splits: tuple[SplitRow, ...]
    places: tuple[SplitRow, ...]
    laps: tuple[SplitRow, ...]
    corners: tuple[CornerPass, ...]
    sitting: tuple[PartRow, ...]
    energy: tuple[PartRow, ...]
    series: RideSeries
    plan: PlanView
    bands: tuple[BandView, ...]
    lap_starts_m: tuple[float, ...]
    corner_marks_m: tuple[float, ...]
    inputs: tuple[InputRow, ...]
    notes: tuple[NoteView, ...]
    measures: Measures = METRIC
    in_si: RideView | None = None


def make_ride_view(
    ride: Ride, demand: Demand, *, split_m: float | None = None, measures: Measures = METRIC
) -> RideView:
    """Everything that is shown of one ride.

    Parameters
    ----------
    ride, demand : Ride, Demand
        The ride, and the settled demand that it was ridden with.
    split_m : float, optional
        Length of a split; by default the shortest round one that makes at most 20 of them.
    measures : Measures
        Units to word it in.

    Returns
    -------
    RideView
        Plain numbers and sentences, the same for terminal, page, picture and JSON.
    """
    course, setup = ride.course, ride.setup
    speeds_mps = ride.node_speeds_mps
    i_top = int(np.argmax(speeds_mps))
    laps = lap_rows_of(ride)
    corners = corner_passes(ride)
    times_s = np.diff(ride.node_times_s)
    sitting = sitting_times_s(ride, demand)
    work_j = ride.work_j
    fade = fade_row(ride, demand)
    steady_w = setup.rider.power_w.value if demand.steady_w is None else demand.steady_w
    coasting_below_w = max(COASTING_SHARE * steady_w, LEAST_W)
    return RideView(
        sentence=(
            f"On {course.name}, {setup.rider.name} on {setup.build.name} takes "
            f"{words.stopwatch(ride.time_s)}: {measures.speed(ride.mean_speed_mps)} at "
            f"{words.number(ride.mean_power_w)} W."
        ),
        more=_more(ride, laps, corners, measures),
        pacing=measures.said(demand.text) + _fade_text(fade, measures),
        course=CourseView(
            name=course.name,
            distance_m=course.distance_m,
            ascent_m=course.ascent_m,
            n_laps=course.n_laps,
            n_corners=len(corners),
            start=course.start,
            height_source=course.height_source,
            source=course.source,
        ),
        build_name=setup.build.name,
        rider_name=setup.rider.name,
        weather_text=weather_text(setup.weather, measures),
        time_s=ride.time_s,
        mean_speed_mps=ride.mean_speed_mps,
        top_speed_mps=float(speeds_mps[i_top]),
        top_speed_at_m=float(course.node_distances_m[i_top]),
        mean_power_w=ride.mean_power_w,
        fourth_power_mean_w=ride.fourth_power_mean_w,
        work_j=work_j,
        coasting_s=float(times_s[ride.powers_w < coasting_below_w].sum()),
        coasting_below_w=coasting_below_w,
        steady_w=steady_w,
        fading_s=fade.time_s,
        fading_from_mps=fade.from_mps,
        splits=split_rows(ride, split_m, measures),
        places=tuple(
            stretch_row(ride, f.kind, words.capital(f.name), f.start_m, f.end_m)
            for f in course.features
            if f.lap == course.n_laps
        ),
        laps=laps,
        corners=corners,
        sitting=tuple(
            PartRow(key=key, label=SITTING_WORDS[key], amount=part_s, share=part_s / ride.time_s)
            for key, part_s in sitting.items()
        ),
        energy=tuple(
            PartRow(
                key=cause,
                label=ENERGY_WORDS[cause],
                amount=float(row.sum()),
                share=float(row.sum()) / work_j if work_j else 0.0,
            )
            for cause, row in zip(ENERGY_CAUSES, ride.energies_j, strict=True)
        ),
        series=_series(ride),
        plan=_plan(ride),
        bands=tuple(
            BandView(kind=f.kind, name=words.capital(f.name), start_m=f.start_m, end_m=f.end_m)
            for f in course.features
        ),
        lap_starts_m=tuple(float(x) for x in course.lap_starts_m),
        corner_marks_m=tuple(float(c.apex_m) for c in course.corners if is_limiting(ride, c)),
        inputs=setup_rows(setup, measures),
        notes=_notes(ride, corners, measures),
        measures=measures,
        in_si=None if measures is METRIC else make_ride_view(ride, demand, split_m=split_m),
    )


def _fade_text(fade: FadeRow, measures: Measures) -> str:
    """What speed does to the power, where it does."""
    if fade.time_s < _TOLD_S:
        return ""
    to, start = (measures.speed(v, 0) for v in (fade.to_mps, fade.from_mps))
    what = "no pedalling above" if fade.is_habit else "the highest gear pedalled out at"
    return f", {what} {to} (power fades from {start} on)"


def weather_text(weather: Weather, measures: Measures) -> str:
    """The air of the day in one line."""
    wind = weather.wind_mps.value
    parts = [weather.name, measures.temperature(weather.temperature_degc.value)]
    if wind > 0.0 or weather.winds:
        parts.append(
            f"wind {measures.speed(wind, 0)} from {words.number(weather.wind_from_deg.value)}°"
            + (", changing" if weather.winds else "")
        )
    parts.append("wet road" if weather.is_wet else "dry road")
    return ", ".join(parts)


def _more(
    ride: Ride, laps: Sequence[SplitRow], corners: Sequence[CornerPass], measures: Measures
) -> tuple[str, ...]:
    course = ride.course
    speeds_mps, nodes_m = ride.node_speeds_mps, course.node_distances_m
    i_top = int(np.argmax(speeds_mps))
    sentences = [
        f"The highest speed is {measures.speed(float(speeds_mps[i_top]))}, at "
        f"{measures.place(float(nodes_m[i_top]))}."
    ]
    if ride.node_reserves_j is not None and ride.setup.rider.wprime_j:
        i_low = int(np.argmin(ride.node_reserves_j))
        share = float(ride.node_reserves_j[i_low]) / ride.setup.rider.wprime_j
        sentences.append(
            "W′ stays full: power never goes above critical power."
            if share > 0.9995
            else f"W′ is lowest at {measures.place(float(nodes_m[i_low]))}: "
            f"{words.percent(share)} of it is left."
        )
    if laps:
        sentences.append(_settling(laps))
    elif corners:
        slowest = min(corners, key=lambda corner: corner.lowest_mps)
        sentences.append(
            f"One corner holds the ride up: {slowest.name} at {measures.speed(slowest.lowest_mps)}."
            if len(corners) == 1
            else f"{words.count(len(corners)).capitalize()} corners hold the ride up; "
            f"the slowest is {slowest.name} at {measures.speed(slowest.lowest_mps)}."
        )
    if course.restarts_m:
        marks = ", ".join(measures.place(m) for m in course.restarts_m)
        sentences.append(f"The rider stops and starts again at {marks}.")
    return tuple(sentences)


def _settling(laps: Sequence[SplitRow]) -> str:
    """From which lap on the lap time stays as it is."""
    last_s = laps[-1].time_s
    i_settled = len(laps) - 1
    while i_settled > 0 and abs(laps[i_settled - 1].time_s - last_s) <= _SETTLED_S:
        i_settled -= 1
    if i_settled == len(laps) - 1:
        return f"The last lap takes {words.stopwatch(last_s)}; lap times do not settle."
    return (
        f"The first lap takes {words.stopwatch(laps[0].time_s)}; from lap {i_settled + 1} on each "
        f"takes {words.stopwatch(last_s)}."
    )


def _series(ride: Ride) -> RideSeries:
    course = ride.course
    behind_w = np.append(ride.powers_w, ride.powers_w[-1])
    keep = kept_nodes(ride.node_speeds_mps, behind_w)

    def thinned(values: FloatArray, decimals: int) -> tuple[float, ...]:
        return tuple(float(x) for x in np.round(values[keep], decimals) + 0.0)

    reserves = None
    if ride.node_reserves_j is not None and ride.setup.rider.wprime_j:
        reserves = thinned(ride.node_reserves_j / ride.setup.rider.wprime_j, 4)
    ceilings = np.round(ride.ceilings_mps[keep], 3).tolist()
    return RideSeries(
        distances_m=thinned(course.node_distances_m, 1),
        heights_m=thinned(course.node_heights_m, 1),
        grades=thinned(np.append(course.grades, course.grades[-1]), 4),
        speeds_mps=thinned(ride.node_speeds_mps, 3),
        ceilings_mps=tuple(x if np.isfinite(x) else None for x in ceilings),
        powers_w=thinned(behind_w, 1),
        reserve_shares=reserves,
        easts_m=thinned(course.node_easts_m, 1),
        norths_m=thinned(course.node_norths_m, 1),
    )


def _plan(ride: Ride) -> PlanView:
    """One lap from above; nothing is gained or lost along it."""
    course, weather = ride.course, ride.setup.weather
    start_m, end_m = course.lap_starts_m[:2].tolist()
    lap_m = np.linspace(start_m, end_m, _N_LEGS + 1)
    return PlanView(
        easts_m=tuple(
            np.round(np.interp(lap_m, course.node_distances_m, course.node_easts_m), 1).tolist()
        ),
        norths_m=tuple(
            np.round(np.interp(lap_m, course.node_distances_m, course.node_norths_m), 1).tolist()
        ),
        rates_s_per_km=(0.0,) * _N_LEGS,
        scale_s_per_km=0.0,
        wind_mps=weather.wind_mps.value,
        wind_from_deg=weather.wind_from_deg.value,
    )


def _notes(ride: Ride, corners: Sequence[CornerPass], measures: Measures) -> tuple[NoteView, ...]:
    course, rider = ride.course, ride.setup.rider
    notes = []
    if course.corners or corners or any(f.kind == "descent" for f in course.features):
        notes.append(NoteView(level="caution", text=words.CAUTION))
    if taken := defaults_sentence(ride.setup, measures):
        notes.append(NoteView(level="note", text=taken))
    notes.append(
        NoteView(
            level="note",
            text=caution_sentence(rider, (ride.setup.build,)),
        )
    )
    if rider.decline_after_s is not None and rider.decline_after_s < ride.time_s:
        notes.append(
            NoteView(
                level="note",
                text=f"Power slowly declines from {clock(rider.decline_after_s)} on.",
            )
        )
    for finding in course.findings:
        text = words.finding_text(finding.text, finding.distance_m, measures)
        notes.append(NoteView(level=finding.level, text=text))
    return tuple(notes)
