"""What the rider wants to push, by place: rules x course -> the table the integrator follows."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.errors import InputError
from simulator.pacing.replay import recorded_powers_w
from simulator.pacing.rules import (
    ByGrade,
    ByWind,
    Coast,
    Constant,
    EvenReserve,
    Limits,
    OnFeature,
    Pacing,
    Replay,
    ReplayRecording,
    Surge,
    Target,
)
from simulator.setup import Rider, Uncertain, Weather

FloatArray = NDArray[np.float64]

COAST_FADE_GRADE = 0.01
"""Over the last percent of grade before the rider's coasting grade, power fades out."""

KINDS = ("climb", "descent", "flat")
"""Kinds of stretches that a rule may name; a course need not have them all."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Demand:
    """Power wanted at the pedals on each segment of a course, before any limit.

    Attributes
    ----------
    powers_w : (n,) array
        Power in W.
    text : str
        The rule in words, for the report.
    surge_w : float
        Power on top of it for `surge_s` seconds out of every corner.
    surge_s : float
        How long a surge lasts.
    coast_mps : float or None
        Speed above which the rider stops pedalling, where a rule says another than the rider's.
    reserve_share : float or None
        Share of W' still to be spread over the climbs (``ride.settle`` does it).
    target : Target or None
        Mean still to be met by scaling (``ride.settle`` does it).
    steady_w : float or None
        Steady power that the rules start from; None stands for the rider's own.
    """

    powers_w: FloatArray
    text: str
    surge_w: float = 0.0
    surge_s: float = 0.0
    coast_mps: float | None = None
    reserve_share: float | None = None
    target: Target | None = None
    steady_w: float | None = None

    def __post_init__(self) -> None:
        powers_w = np.array(self.powers_w, dtype=np.float64, order="C")
        powers_w.flags.writeable = False
        object.__setattr__(self, "powers_w", powers_w)

    @property
    def is_open(self) -> bool:
        """Whether some of it can only be settled by riding."""
        return self.reserve_share is not None or self.target is not None


def constant_demand(course: Course, rider: Rider, *, power_w: float | None = None) -> Demand:
    """Constant power, but coasting where the road falls more steeply than the rider pedals.

    Parameters
    ----------
    course : Course
        Where.
    rider : Rider
        Gives ``power_w`` unless it is passed, and ``coast_grade``.
    power_w : float, optional
        Power in W instead of the rider's.

    Returns
    -------
    Demand
        Full power down to one percent above the coasting grade, none below it, linear between,
        so that a hair of grade does not switch the whole power.
    """
    wanted_w = rider.power_w.value if power_w is None else power_w
    text = (
        f"constant {wanted_w:.0f} W, coasting on descents steeper than "
        f"{abs(rider.coast_grade) * 100.0:.0f} %"
    )
    powers_w = wanted_w * pedalled_share(course.grades, rider.coast_grade)
    return Demand(powers_w=powers_w, text=text, steady_w=wanted_w)


def wanted_demand(
    course: Course,
    *,
    rider: Rider,
    weather: Weather,
    pacing: Pacing | None = None,
    power_w: float | None = None,
) -> Demand:
    """Power along the course: by the rules of a pacing, else constant.

    Parameters
    ----------
    course, rider, weather : Course, Rider, Weather
        Where, who, and the forecast wind at the start.
    pacing : Pacing, optional
        Rules, applied to the constant power.
    power_w : float, optional
        Constant power in W instead of the rider's.

    Returns
    -------
    Demand
        May be open: ``ride.settle`` closes it.

    Raises
    ------
    InputError
        As `demand_of`.
    """
    if pacing is None:
        return constant_demand(course, rider, power_w=power_w)
    if power_w is not None:
        rider = replace(rider, power_w=Uncertain(power_w, rider.power_w.sd))
    return demand_of(pacing, course=course, rider=rider, weather=weather)


def pedalled_share(grades: FloatArray, coast_grade: float) -> FloatArray:
    """Share of the power that is pedalled at a grade: 1, fading to 0 at the coasting grade.

    Parameters
    ----------
    grades : (n,) array
        Rise over run.
    coast_grade : float
        Grade below which the rider does not pedal.

    Returns
    -------
    (n,) array
        0 to 1.
    """
    return np.asarray(np.clip((grades - coast_grade) / COAST_FADE_GRADE, 0.0, 1.0))


def demand_of(pacing: Pacing, *, course: Course, rider: Rider, weather: Weather) -> Demand:
    """Lay rules over a course.

    Parameters
    ----------
    pacing : Pacing
        Rules, applied in order to the rider's constant power.
    course, rider, weather : Course, Rider, Weather
        Where, who (power and coasting grade) and the forecast wind at the start.

    Returns
    -------
    Demand
        May be open: then ``ride.settle`` closes it.

    Raises
    ------
    InputError
        If a rule names a feature that the course does not have, or needs a critical power that
        the rider does not state.
    """
    powers_w = np.full(course.n_segments, rider.power_w.value)
    coast_grade = rider.coast_grade
    rest = Demand(powers_w=powers_w, text=_text(pacing))
    for rule in pacing.rules:
        match rule:
            case Constant():
                powers_w = np.full(course.n_segments, rule.power_w)
                rest = replace(rest, steady_w=rule.power_w)
            case Replay():
                middle_m = 0.5 * (course.node_distances_m[:-1] + course.node_distances_m[1:])
                powers_w = np.interp(middle_m, rule.distances_m, rule.powers_w)
                coast_grade, rest = _as_recorded(rest)
            case ReplayRecording():
                powers_w = recorded_powers_w(rule.recording, course)
                coast_grade, rest = _as_recorded(rest)
            case ByGrade():
                above = np.maximum(course.grades - rule.above_grade, 0.0)
                below = np.maximum(rule.below_grade - course.grades, 0.0)
                powers_w = (
                    powers_w + rule.per_grade_above_w * above - rule.per_grade_below_w * below
                )
            case ByWind():
                powers_w = powers_w + rule.per_mps_w * _forecast_headwinds_mps(course, weather)
            case OnFeature():
                powers_w = _on_feature(rule, powers_w, course, pacing)
            case Limits():
                powers_w = np.clip(powers_w, rule.floor_w, rule.cap_w)
            case Surge():
                rest = replace(rest, surge_w=rule.add_w, surge_s=rule.for_s)
            case Coast():
                coast_grade = coast_grade if rule.below_grade is None else rule.below_grade
                rest = replace(rest, coast_mps=rule.above_mps)
            case EvenReserve():
                if rider.cp_w is None:
                    raise InputError(
                        file=pacing.source or pacing.name,
                        place="rule `reserve`",
                        found=f"the rider {rider.name} has no critical power",
                        expected="`cp_w` and `wprime_kj` in the rider's file",
                        mend="add them or leave the rule out",
                    )
                rest = replace(rest, reserve_share=rule.share)
            case Target():
                rest = replace(rest, target=rule)
    powers_w = np.maximum(powers_w, 0.0) * pedalled_share(course.grades, coast_grade)
    return replace(rest, powers_w=powers_w)


def _as_recorded(rest: Demand) -> tuple[float, Demand]:
    """A recording holds its own coasting: the rider's habit must not cut it once more."""
    return -math.inf, replace(rest, coast_mps=math.inf)


def on_climbs(course: Course) -> NDArray[np.bool_]:
    """Mask of the segments that lie on a climb of the course."""
    mask = np.zeros(course.n_segments, dtype=bool)
    for feature in course.features:
        if feature.kind == "climb":
            mask |= _inside(course, feature.start_m, feature.end_m)
    return mask


def _inside(course: Course, start_m: float, end_m: float) -> NDArray[np.bool_]:
    middle_m = 0.5 * (course.node_distances_m[:-1] + course.node_distances_m[1:])
    return (middle_m > start_m) & (middle_m < end_m)


def _on_feature(
    rule: OnFeature, powers_w: FloatArray, course: Course, pacing: Pacing
) -> FloatArray:
    wanted = rule.feature.casefold()
    chosen = [f for f in course.features if wanted in (f.kind.casefold(), f.name.casefold())]
    if not chosen and wanted in KINDS:
        return powers_w  # a course without descents needs no rule for them
    if not chosen:
        names = ", ".join(dict.fromkeys(f"`{f.name}`" for f in course.features))
        raise InputError(
            file=pacing.source or pacing.name,
            place="rule `feature`",
            found=f"`{rule.feature}` is not on the course {course.name}",
            expected=f"climb, descent, flat or one of {names or 'none: it has no features'}",
        )
    changed_w = powers_w.copy()
    for feature in chosen:
        mask = _inside(course, feature.start_m, feature.end_m)
        if rule.power_w is not None:
            changed_w[mask] = rule.power_w
        elif rule.add_w is not None:
            changed_w[mask] += rule.add_w
        elif rule.factor is not None:
            changed_w[mask] *= rule.factor
    return changed_w


def _forecast_headwinds_mps(course: Course, weather: Weather) -> FloatArray:
    from_rad = math.radians(weather.wind_from_deg.value)
    return np.asarray(weather.wind_mps.value * np.cos(from_rad - course.headings_rad))


def _text(pacing: Pacing) -> str:
    count = len(pacing.rules)
    return f"pacing “{pacing.name}” ({count} rule{'' if count == 1 else 's'})"
