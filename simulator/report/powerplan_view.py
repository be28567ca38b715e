"""What is shown of plans of power, as plain frozen records: numbers in SI, finished sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulator.measures import METRIC, Measures
from simulator.powerplan import Attempt, Day, Stretch, Tryout
from simulator.report import powerplan_words, words
from simulator.report.views import NoteView
from simulator.ride import CUT_W

MOST_POINTS = 1200


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRow:
    """One weather: times of the plan, of the quickest power, of constant power."""

    name: str
    wind_mps: float
    wind_from_deg: float
    temperature_degc: float
    is_wet: bool
    plan_s: float
    quickest_s: float
    constant_s: float
    constant_w: float
    saved_s: float
    loss_s: float
    mean_w: float
    first_plan_s: float | None
    first_plan_short_w: float
    curve_m: tuple[float, ...]
    curve_w: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlongView:
    """The first weather's plan along the course, thinned for drawing."""

    distances_m: tuple[float, ...]
    heights_m: tuple[float, ...]
    plan_w: tuple[float, ...]
    quickest_w: tuple[float, ...]
    reserves_j: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerplanView:
    """All that is shown of a plan, worded in ``measures``; ``in_si`` is the same for JSON."""

    sentence: str
    facts: str
    more: tuple[str, ...]
    course: str
    distance_m: float
    build: str
    rider: str
    n_laps: int
    plan_s: float
    mean_w: float
    fourth_power_mean_w: float
    cp_w: float | None
    full_j: float | None
    rows: tuple[Stretch, ...]
    days: tuple[DayRow, ...]
    along: AlongView
    notes: tuple[NoteView, ...]
    measures: Measures = METRIC
    in_si: PowerplanView | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TryRow:
    """One pacing as ridden; times of the places in the order of the view's `places`."""

    name: str
    time_s: float | None
    gap_s: float | None
    mean_w: float | None
    fourth_power_mean_w: float | None
    low_j: float | None
    low_at_m: float | None
    answer: str
    can_be_done: bool | None
    weak_loss_s: float | None
    weak_answer: str
    place_gaps_s: tuple[float, ...]
    trouble: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TryoutView:
    """All that is shown of pacings side by side, worded in ``measures``; see `PowerplanView`."""

    sentence: str
    facts: str
    course: str
    places: tuple[str, ...]
    rows: tuple[TryRow, ...]
    notes: tuple[NoteView, ...]
    measures: Measures = METRIC
    in_si: TryoutView | None = None


def caution_notes() -> tuple[NoteView, ...]:
    """The cautions that go with every plan."""
    return tuple(NoteView(level="caution", text=text) for text in powerplan_words.CAUTIONS)


def make_powerplan_view(days: Sequence[Day], measures: Measures = METRIC) -> PowerplanView:
    """Everything that is shown of a plan, made for the first of some weathers.

    Parameters
    ----------
    days : sequence of Day
        At least one, all of one course and build.
    measures : Measures
        Units to word it in.

    Returns
    -------
    PowerplanView
    """
    first = days[0]
    plan, solution = first.plan, first.solution
    course, setup, ride = plan.ride.course, plan.ride.setup, plan.ride
    rider = setup.rider
    more = [powerplan_words.loss_sentence(plan.loss_s, solution.time_s)]
    if ride.node_reserves_j is not None and rider.wprime_j is not None:
        i_low = int(np.argmin(ride.node_reserves_j))
        more.append(
            powerplan_words.reserve_sentence(
                float(ride.node_reserves_j[-1]),
                rider.wprime_j,
                float(ride.node_reserves_j[i_low]),
                measures.place(float(course.node_distances_m[i_low])),
            )
        )
    more.append(powerplan_words.hold_sentence(any(s.power_w == 0.0 for s in plan.stretches)))
    more.append(
        powerplan_words.settled_sentence(
            solution.n_rides, solution.gained_share, solution.is_settled
        )
    )
    if len(days) > 1:
        order = sorted(days, key=lambda day: day.plan.time_s)
        more.append(
            powerplan_words.days_sentence(
                order[0].weather.name,
                order[-1].weather.name,
                order[-1].plan.time_s - order[0].plan.time_s,
            )
        )
    picked = _picked(course.n_segments)
    zeros = np.zeros(course.n_segments + 1)
    reserves_j = zeros if ride.node_reserves_j is None else ride.node_reserves_j
    laps = f" · {words.plural(course.n_laps, 'lap')}" if course.n_laps > 1 else ""
    return PowerplanView(
        sentence=powerplan_words.plan_sentence(
            course.name,
            plan.n_changes,
            plan.saved_s,
            solution.constant_w,
            course.n_laps,
            is_plain_mean=solution.problem.budget.mean_w is not None,
        ),
        facts=(
            f"{measures.distance(course.distance_m)} · {measures.height(course.ascent_m)} up"
            f"{laps} · {rider.name} on {setup.build.name} · {setup.weather.name}"
        ),
        more=tuple(more),
        course=course.name,
        distance_m=course.distance_m,
        build=setup.build.name,
        rider=rider.name,
        n_laps=course.n_laps,
        plan_s=plan.time_s,
        mean_w=ride.mean_power_w,
        fourth_power_mean_w=ride.fourth_power_mean_w,
        cp_w=rider.cp_w,
        full_j=rider.wprime_j,
        rows=plan.stretches,
        days=tuple(_day_row(day) for day in days),
        along=AlongView(
            distances_m=_floats(course.node_distances_m[picked]),
            heights_m=_floats(course.node_heights_m[picked]),
            plan_w=_floats(_thinned(ride.powers_w, picked)),
            quickest_w=_floats(_thinned(solution.trial.powers_w, picked)),
            reserves_j=_floats(reserves_j[picked]),
        ),
        notes=(*_plain_mean_notes(first), *caution_notes()),
        measures=measures,
        in_si=None if measures is METRIC else make_powerplan_view(days),
    )


def _plain_mean_notes(day: Day) -> tuple[NoteView, ...]:
    """A warning where hard efforts cost a plan nothing."""
    mean_w = day.solution.problem.budget.mean_w
    if mean_w is None:
        return ()
    text = powerplan_words.plain_mean_warning(
        max(stretch.power_w for stretch in day.plan.stretches),
        mean_w,
        has_reserve=day.plan.ride.setup.rider.cp_w is not None,
    )
    return (NoteView(level="caution", text=text),)


def _day_row(day: Day) -> DayRow:
    plan, weather = day.plan, day.weather
    picked = _picked(plan.ride.course.n_segments, most=160)
    return DayRow(
        name=weather.name,
        wind_mps=weather.wind_mps.value,
        wind_from_deg=weather.wind_from_deg.value,
        temperature_degc=weather.temperature_degc.value,
        is_wet=weather.is_wet,
        plan_s=plan.time_s,
        quickest_s=day.solution.time_s,
        constant_s=plan.constant_s,
        constant_w=day.solution.constant_w,
        saved_s=plan.saved_s,
        loss_s=plan.loss_s,
        mean_w=plan.ride.mean_power_w,
        first_plan_s=day.first_plan_s,
        first_plan_short_w=day.first_plan_short_w,
        curve_m=_floats(plan.ride.course.node_distances_m[picked]),
        curve_w=_floats(_thinned(day.solution.trial.powers_w, picked)),
    )


def make_tryout_view(tried: Tryout, measures: Measures = METRIC) -> TryoutView:
    """Everything that is shown of pacings side by side."""
    attempts = tried.attempts
    first = attempts[0]
    features = [f for f in tried.features if f.end_m - f.start_m > 0.0]
    rows = tuple(_try_row(attempt, first, measures) for attempt in attempts)
    done = [a for a in attempts if a.ride is not None and a.can_be_done is not False]
    course = tried.course
    sentence = f"On {course.name}, none of these pacings can be ridden to the end as asked for."
    if done:
        best = min(done, key=lambda a: a.ride.time_s if a.ride is not None else np.inf)
        base = first if first in done else done[0]
        gain_s, means_w = 0.0, None
        if best.ride is not None and base.ride is not None:
            gain_s = base.ride.time_s - best.ride.time_s
            means_w = (base.ride.mean_power_w, best.ride.mean_power_w)
        sentence = powerplan_words.tryout_sentence(
            course.name, base.name, best.name, gain_s, len(done), means_w=means_w
        )
    setup = tried.setup
    return TryoutView(
        sentence=sentence,
        facts=(
            f"{measures.distance(course.distance_m)} · {measures.height(course.ascent_m)} up · "
            f"{setup.rider.name} on {setup.build.name} · {setup.weather.name}"
        ),
        course=course.name,
        places=tuple(f.name if f.lap == 1 else f"{f.name}, lap {f.lap}" for f in features),
        rows=rows,
        notes=caution_notes(),
        measures=measures,
        in_si=None if measures is METRIC else make_tryout_view(tried),
    )


def _try_row(attempt: Attempt, first: Attempt, measures: Measures) -> TryRow:
    ride = attempt.ride
    gaps: tuple[float, ...] = ()
    gap_s = None
    if ride is not None and first.ride is not None:
        gap_s = ride.time_s - first.ride.time_s
        pairs = zip(attempt.feature_times_s, first.feature_times_s, strict=True)
        gaps = tuple(float(own - base) for own, base in pairs)
    weak = "not known"
    if attempt.weak_ride is not None:
        is_fine = attempt.weak_cut_w is not None and attempt.weak_cut_w <= CUT_W
        weak = powerplan_words.can_be_done(is_fine, attempt.weak_cut_w)
    return TryRow(
        name=attempt.name,
        time_s=None if ride is None else ride.time_s,
        gap_s=gap_s,
        mean_w=None if ride is None else ride.mean_power_w,
        fourth_power_mean_w=None if ride is None else ride.fourth_power_mean_w,
        low_j=attempt.low_j,
        low_at_m=attempt.low_at_m,
        answer=powerplan_words.can_be_done(attempt.can_be_done, attempt.cut_w),
        can_be_done=attempt.can_be_done,
        weak_loss_s=attempt.weak_loss_s,
        weak_answer=weak,
        place_gaps_s=gaps,
        trouble=measures.said(attempt.trouble),
    )


def _picked(n_segments: int, most: int = MOST_POINTS) -> np.ndarray:
    return np.unique(np.linspace(0, n_segments, min(n_segments, most) + 1).astype(int))


def _thinned(powers_w: np.ndarray, picked: np.ndarray) -> np.ndarray:
    """Mean power between the nodes picked; the last one stands twice."""
    means = np.add.reduceat(powers_w, picked[:-1]) / np.diff(picked)
    return np.append(means, means[-1])


def _floats(values: np.ndarray) -> tuple[float, ...]:
    return tuple(round(float(value), 3) for value in values)
