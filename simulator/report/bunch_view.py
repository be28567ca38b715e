"""What is shown of a race in the bunch, as plain frozen records: SI numbers, finished sentences."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.bunch import (
    BuildInBunch,
    BunchRace,
    ClimbLimit,
    CornerCost,
    LapCost,
    Loss,
    SoloBreak,
    Sprint,
)
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.powerplan_words import HEALTH_CAUTION, ROAD_CAUTION
from simulator.report.views import NoteView
from simulator.units import duration

MOST_POINTS = 900

BUNCH_CAUTION = (
    "Riding in a bunch is a craft of its own: learn it with a club, keep your line, and leave more "
    "room than a model does. Shelter figures come from wind tunnels, where nobody brakes."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BunchBuildView:
    """One build in the bunch."""

    name: str
    mean_w: float
    fourth_power_mean_w: float
    work_j: float
    n_surges: int
    surge_s: float
    surge_over_w: float
    longest_surge_s: float
    work_over_j: float
    low_j: float | None
    lost_at_m: float | None
    chance_lost: float | None
    tie_place: float | None
    first_tie_place: float | None
    n_corners_too_fast: int
    laps: tuple[LapCost, ...]
    corners: tuple[CornerCost, ...]
    climbs: tuple[ClimbLimit, ...]
    breaks: tuple[SoloBreak, ...]
    sprint: Sprint | None
    needed_w: tuple[float, ...]
    reserves_j: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BunchView:
    """All that is shown of a race in the bunch; the first build is what others tie with.

    It is worded in ``measures``; ``in_si`` is the same for JSON.
    """

    sentence: str
    facts: str
    more: tuple[str, ...]
    course: str
    place: float
    factor: float
    shelter: str
    bunch_source: str
    bunch_s: float
    bunch_mps: float
    smoothing_w: tuple[float, ...]
    cp_w: float | None
    full_j: float | None
    n_draws: int
    seed: int
    builds: tuple[BunchBuildView, ...]
    distances_m: tuple[float, ...]
    heights_m: tuple[float, ...]
    speeds_mps: tuple[float, ...]
    notes: tuple[NoteView, ...]
    measures: Measures = METRIC
    in_si: BunchView | None = None


def make_bunch_view(race: BunchRace, measures: Measures = METRIC) -> BunchView:
    """Everything that is shown of a race in the bunch."""
    course, rules, bunch = race.course, race.rules, race.bunch
    setup = race.builds[0].setup
    picked = np.unique(np.linspace(0, course.n_segments, MOST_POINTS + 1).astype(int))
    builds = tuple(_build_view(build, picked) for build in race.builds)
    laps = f" · {words.plural(course.n_laps, 'lap')}" if course.n_laps > 1 else ""
    turns = ""
    if rules.turn_s > 0.0:
        turns = f", {rules.turn_s:g} s in front every {duration(rules.turn_every_s)}"
    place = f"{rules.place:g}"
    return BunchView(
        sentence=_sentence(race),
        facts=(
            f"{measures.distance(course.distance_m)}{laps} · {bunch.source}, "
            f"{measures.speed(bunch.mean_speed_mps)} · place {place}, drag "
            f"{words.percent(race.factor)} of alone{turns} · {setup.rider.name} · "
            f"{setup.weather.name}"
        ),
        more=_more(race, measures),
        course=course.name,
        place=rules.place,
        factor=race.factor,
        shelter="own table" if rules.places is not None else rules.shelter,
        bunch_source=bunch.source,
        bunch_s=bunch.time_s,
        smoothing_w=race.smoothing_w,
        bunch_mps=bunch.mean_speed_mps,
        cp_w=setup.rider.cp_w,
        full_j=setup.rider.wprime_j,
        n_draws=race.n_draws,
        seed=race.seed,
        builds=builds,
        distances_m=_floats(course.node_distances_m[picked]),
        heights_m=_floats(course.node_heights_m[picked]),
        speeds_mps=_floats(bunch.node_speeds_mps[picked]),
        notes=_notes(race),
        measures=measures,
        in_si=None if measures is METRIC else make_bunch_view(race),
    )


def _sentence(race: BunchRace) -> str:
    first, others = race.builds[0], race.builds[1:]
    course, name = race.course.name, first.setup.build.name
    if not others:
        return (
            f"On {course}, staying in place {race.rules.place:g} takes "
            f"{words.number(first.mean_w)} W on {name}{_lost_clause(race)}."
        )
    other = max(others, key=lambda build: abs(build.mean_w - first.mean_w))
    extra_w = other.mean_w - first.mean_w
    other_name = other.setup.build.name
    if abs(extra_w) < 0.5:
        return (
            f"On {course}, staying in the bunch takes the same power on {other_name} as on {name}"
            f"{_lost_clause(race)}."
        )
    more = "more" if extra_w > 0.0 else "less"
    return (
        f"On {course}, staying in the bunch takes {words.number(abs(extra_w), 1)} W {more} on "
        f"{other_name} than on {name}{_places_clause(race, other)}{_lost_clause(race)}."
    )


def _lost_clause(race: BunchRace) -> str:
    """Who cannot give that: a figure of power alone would sound as if it could be ridden."""
    lost = [b.setup.build.name for b in race.builds if b.following.lost_at_m is not None]
    if not lost:
        return ""
    if len(lost) == len(race.builds):
        return ", and the rider cannot hold it" + (" on any of them" if len(lost) > 1 else "")
    return f", and on {' and '.join(lost)} the rider cannot hold it"


def _places_clause(race: BunchRace, other: BuildInBunch) -> str:
    place = race.rules.place
    better, worse = race.builds[0].setup.build.name, other.setup.build.name
    if other.mean_w < race.builds[0].mean_w:
        better, worse = worse, better
    tied = other.first_tie_place if better != other.setup.build.name else other.tie_place
    if tied is None:
        return ""
    n_places = abs(place - tied)
    return (
        f": worth {words.number(n_places, 1)} places, as {better} needs as much in place "
        f"{words.number(tied, 1)} as {worse} does in place {place:g}"
    )


def _more(race: BunchRace, measures: Measures) -> tuple[str, ...]:
    texts = []
    for build in race.builds:
        name = build.setup.build.name
        if build.loss is not None:
            texts.append(_loss_sentence(name, build.loss, measures))
        if build.chance_lost is not None:
            often = words.percent(build.chance_lost)
            texts.append(f"{name} loses contact in {often} of {race.n_draws:,} paired draws.")
        if build.corners:
            corner = build.corners[0]
            times = f" over {corner.n_times} times" if corner.n_times > 1 else ""
            texts.append(
                f"The corner that costs {name} most is the {measures.said(corner.name)}: "
                f"{words.number(corner.speed_up_j / 1000.0, 1)} kJ to get back up to speed{times}, "
                f"up to {words.number(corner.peak_w)} W{_gap_clause(corner.gap_m, measures)}."
            )
        if build.n_corners_too_fast:
            texts.append(
                f"The bunch takes {words.plural(build.n_corners_too_fast, 'corner')} faster than "
                f"{name} may with its grip: there the wheel has to be let go."
            )
    texts += [measures.said(remark) for remark in race.bunch.remarks]
    if race.smoothing_w:
        less, more = (w - race.builds[0].mean_w for w in race.smoothing_w)
        texts.append(
            f"That smoothing is a doubt of its own: half as much would ask {words.signed(less)} W "
            f"of {race.builds[0].setup.build.name}, twice as much {words.signed(more)} W."
        )
    return tuple(texts)


def _loss_sentence(name: str, loss: Loss, measures: Measures) -> str:
    """Where contact is lost with every input as stated, and why, W′ left or not."""
    left = why = ""
    if loss.reserve_j is not None:
        left = f" with {words.number(loss.reserve_j / 1000.0, 1)} kJ of W′ left"
        why = "; the less is left of W′, the less above critical power"
    return (
        f"With every input as stated, {name} loses contact at {measures.place(loss.at_m)}{left}: "
        f"from {measures.place(loss.from_m)} the wheel takes {words.number(loss.needed_w)} W at "
        f"times, and the rider can give no more than {words.number(loss.given_w)} W there{why}. A "
        "gap opens, and in a gap there is less shelter."
    )


def _gap_clause(gap_m: float, measures: Measures) -> str:
    if gap_m < 0.05:
        return ""
    return f", and a gap of {measures.height(gap_m, 1)} to close"


def _notes(race: BunchRace) -> tuple[NoteView, ...]:
    notes = [
        NoteView(level="caution", text=text)
        for text in (BUNCH_CAUTION, HEALTH_CAUTION, words.CAUTION, ROAD_CAUTION)
    ]
    notes.append(
        NoteView(
            level="note",
            text="The bunch keeps the pace of the reference rider whatever happens: it neither "
            "chases a break nor waits."
            if race.bunch.smoothed_s == 0.0
            else "The bunch rides as recorded whatever happens: it neither chases a break nor "
            "waits, and what its riders did in wind and shelter of that day is in its speed.",
        )
    )
    if race.builds[0].chance_lost is not None:
        notes.append(NoteView(level="note", text=_drawn(race)))
    if race.bunch.place is None:
        notes.append(
            NoteView(
                level="note",
                text="The recording is taken as ridden in your own place: its surges are in its "
                "speed, and none are added. Say where it was ridden with `recorded_place`.",
            )
        )
    if not race.bands:
        counted = ""
        if any(build.surges.count for build in race.builds):
            counted = " The surges that are counted lie in its pace."
        notes.append(
            NoteView(
                level="note",
                text="At this pace no corner slows the bunch enough to stretch it: no gap opens "
                f"that must be closed.{counted}",
            )
        )
    return tuple(notes)


def _drawn(race: BunchRace) -> str:
    """What the chance of losing contact counts."""
    rider = race.builds[0].setup.rider
    own = [
        f"{name} ({words.percent(sd / value, 1)})"
        for name, sd, value in (
            ("critical power", rider.cp_sd_w, rider.cp_w),
            ("W′", rider.wprime_sd_j, rider.wprime_j),
        )
        if value and sd > 0.0
    ]
    known = (
        f"the rider's own doubt of {' and '.join(own)}, each on its own"
        if own
        else "nothing for how well critical power and W′ are known, as the rider's file states none"
    )
    return (
        "Chances are those of draws of every stated uncertainty, gusts in the wind's, form on the "
        f"day ({words.percent(race.rules.form_sd, 1)} of critical power), and {known}."
    )


def _build_view(build: BuildInBunch, picked: np.ndarray) -> BunchBuildView:
    following, surges = build.following, build.surges
    has_reserve = build.setup.rider.wprime_j is not None
    means = np.add.reduceat(following.needed_w, picked[:-1]) / np.diff(picked)
    return BunchBuildView(
        name=build.setup.build.name,
        mean_w=build.mean_w,
        fourth_power_mean_w=build.fourth_power_mean_w,
        work_j=build.work_j,
        n_surges=surges.count,
        surge_s=surges.mean_s,
        surge_over_w=surges.mean_over_w,
        longest_surge_s=surges.longest_s,
        work_over_j=surges.work_over_j,
        low_j=float(following.node_reserves_j.min()) if has_reserve else None,
        lost_at_m=following.lost_at_m,
        chance_lost=build.chance_lost,
        tie_place=build.tie_place,
        first_tie_place=build.first_tie_place,
        n_corners_too_fast=build.n_corners_too_fast,
        laps=build.laps,
        corners=build.corners,
        climbs=build.climbs,
        breaks=build.breaks,
        sprint=build.sprint,
        needed_w=_floats(np.append(means, means[-1])),
        reserves_j=_floats(following.node_reserves_j[picked]) if has_reserve else (),
    )


def _floats(values: np.ndarray) -> tuple[float, ...]:
    return tuple(round(float(value), 3) for value in values)
