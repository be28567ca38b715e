"""One least-squares fit of all runs of a test day on the ride model itself.

Unknowns are CdA and Crr of each build and everything that blurs them (wind, mass, meter, speeds
at the start), each with what is known beforehand as one more observation (Gelman and others,
Bayesian Data Analysis, section 14.8: a normal prior is a row of the regression; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.stats import chi2 as chi2_law

from simulator.errors import CannotFinish
from simulator.fieldtest.legride import HOPELESS_S, leg_prediction, leg_slopes
from simulator.fieldtest.legs import Leg, RunReading, repeats
from simulator.fieldtest.parameters import (
    Parameter,
    figures_of_leg,
    list_parameters,
    owners_of_leg,
)
from simulator.fieldtest.roads import FloatArray
from simulator.fieldtest.testday import TestDay
from simulator.measures import Amount, Measures, Phrase, amount, joined, stopwatch

LACK_LEVEL = 0.01
"""Below this probability the scatter stated does not explain the residuals."""

SETTLED = 0.01
"""The search ends when no unknown would move by more than this share of its uncertainty."""

MOST_ROUNDS = 30
LARGEST_STEP = 20.0
LEAST_CDA_M2 = 0.01
HOPELESS_SCORE = 100.0
"""Residuals this many standard deviations large mean that the file tells of another road; smaller
ones are told as doubts."""

Slopes = tuple[FloatArray, dict[str, FloatArray], dict[str, FloatArray]]
"""What `leg_slopes` returns."""

_FACTOR_ROLES = ("scale", "fitting")

OWN_ROLES = ("wind_east", "wind_north", "start", "zero", "rise")
"""What runs have anew, not the builds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """A test day ready to fit: legs, unknowns, and the triangular roots of the doubts.

    ``twins[i]`` is the first leg that leg i repeats (its own place if none): a repeated run is
    ridden once for all.
    """

    day: TestDay
    readings: tuple[RunReading, ...]
    legs: tuple[Leg, ...]
    parameters: tuple[Parameter, ...]
    roots: tuple[FloatArray, ...]
    twins: tuple[int, ...]

    @property
    def before(self) -> FloatArray:
        """Values of the unknowns before any run."""
        return np.array([p.before for p in self.parameters])

    @property
    def before_sds(self) -> FloatArray:
        """Their standard deviations."""
        return np.array([p.before_sd for p in self.parameters])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Values of all unknowns with their covariance, and how well the runs agree.

    ``residuals[i]`` are leg i's residuals over their doubt (uncorrelated), ``jacobians[i]`` the
    slopes of these. ``chi2`` counts what is known beforehand as observations, so its degrees of
    freedom are the number of measurements.
    """

    problem: Problem
    values: FloatArray
    covariance: FloatArray
    residuals: tuple[FloatArray, ...]
    jacobians: tuple[FloatArray, ...]
    predictions: tuple[FloatArray, ...]
    chi2: float
    n_observations: int
    chance: float
    inflation: float

    @property
    def sds(self) -> FloatArray:
        """Standard uncertainty of each unknown."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    def index(self, role: str, owner: str) -> int:
        """Place of an unknown.

        Raises
        ------
        KeyError
            If there is no such unknown.
        """
        for i, parameter in enumerate(self.problem.parameters):
            if (parameter.role, parameter.owner) == (role, owner):
                return i
        raise KeyError((role, owner))


def make_problem(day: TestDay, readings: tuple[RunReading, ...]) -> Problem:
    """Collect legs and unknowns; see `Problem`."""
    legs = tuple(leg for reading in readings for leg in reading.legs)
    return Problem(
        day=day,
        readings=readings,
        legs=legs,
        parameters=list_parameters(day, readings),
        roots=tuple(np.asarray(np.linalg.cholesky(leg.covariance(day.scatter))) for leg in legs),
        twins=tuple(
            next(j for j, other in enumerate(legs[: i + 1]) if leg is other or repeats(leg, other))
            for i, leg in enumerate(legs)
        ),
    )


def fit_problem(problem: Problem, *, start: FloatArray | None = None) -> Fit:
    """Fit all unknowns by generalised least squares, solved by Gauss and Newton's steps.

    Parameters
    ----------
    problem : Problem
    start : (p,) array, optional
        Where to begin; the values known beforehand by default.

    Raises
    ------
    CannotFinish
        If the search does not settle.

    Notes
    -----
    Slopes come from central differences of rides that run in one batch. The covariance is that of
    the linearised problem at the solution, (J'J)^-1 (textbook). A correction of the values for
    bends in CdA, Crr and the meter (Box 1971) was tried: over 2,000 rehearsed tests it moved no
    bias by more than 0.01 of an uncertainty, so it was left out. What biased the values was a
    narrow `CRR_BEFORE`; see there.
    """
    before, sds = problem.before, problem.before_sds
    n_legs = len(problem.legs)
    scores = np.zeros(len(before)) if start is None else (start - before) / sds
    scores, rows, slopes = _settled(problem, scores)
    values = values_of(problem, scores)
    covariance = np.linalg.inv(slopes.T @ slopes) * np.outer(sds, sds)
    sizes = [len(leg.observed) for leg in problem.legs]
    cuts = np.cumsum(sizes)
    n_rows = int(cuts[-1]) if n_legs else 0
    chi2 = float(rows @ rows)
    chance = float(chi2_law.sf(chi2, n_rows))
    # Scatter larger than stated widens every doubt by the same factor (R. T. Birge 1932, from
    # memory); a smaller one does not narrow it.
    inflation = float(np.sqrt(chi2 / n_rows)) if chance < LACK_LEVEL else 1.0
    return Fit(
        problem=problem,
        values=values,
        covariance=covariance * inflation**2,
        residuals=tuple(np.split(rows[:n_rows], cuts[:-1])),
        jacobians=tuple(np.split(slopes[:n_rows] / sds, cuts[:-1])),
        predictions=tuple(
            leg.observed + root @ part
            for leg, root, part in zip(
                problem.legs, problem.roots, np.split(rows[:n_rows], cuts[:-1]), strict=True
            )
        ),
        chi2=chi2,
        n_observations=n_rows,
        chance=chance,
        inflation=inflation,
    )


def _settled(problem: Problem, scores: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Scores at which the weighted residuals balance, with their rows and slopes.

    The slopes leave out how the answer to wind itself depends on the builds, so this is the
    balance of generalised least squares, not the foot of a valley: steps are not tested by the
    sum of squares, only cut where they are large.
    """
    for _ in range(MOST_ROUNDS):
        rows, slopes = _rows(problem, values_of(problem, scores))
        normal = slopes.T @ slopes
        step = -np.linalg.solve(normal, slopes.T @ rows)
        # The step in units of each unknown's own uncertainty.
        size = float(np.max(np.abs(step) / np.sqrt(np.diag(np.linalg.inv(normal)))))
        if size < SETTLED:
            break
        scores = scores + step * min(1.0, LARGEST_STEP / size)
    else:
        raise CannotFinish(_far_off(problem))
    if not float(np.max(np.abs(rows))) <= HOPELESS_SCORE:
        raise CannotFinish(_far_off(problem))
    return scores, rows, slopes


def against_stated(day: TestDay, leg: Leg) -> tuple[float, float]:
    """What was measured on a leg last, and what its build as stated would have done (s or m)."""
    stated = leg_prediction(day, leg, figures_of_leg(day, leg, {}))
    return float(leg.observed[-1]), float(stated[-1])


def _far_off(problem: Problem) -> str:
    """Which run is furthest from its build as stated, and what its recording said about it."""
    found = [(*against_stated(problem.day, leg), leg) for leg in problem.legs]
    seen, stated, leg = max(found, key=lambda one: abs(np.log(one[0] / max(one[1], 1.0))))

    def told(value: float) -> Amount | str:
        return stopwatch(value) if leg.stop_m is None else amount(Measures.height, value, 1)

    doubts = next((r.doubts for r in problem.readings if r.run is leg.run), ())
    return Phrase(
        "The runs cannot be fitted together; furthest off is run {run}: {seen} measured, {stated} "
        "from its power, its road and the build as stated. {doubts}Are time, power, road and "
        "direction those of this run?",
        run=leg.name,
        seen=told(seen),
        stated=told(stated) if stated < 0.9 * HOPELESS_S else "no end at all",
        doubts=joined("", (Phrase("Its recording: {text}. ", text=text) for text in doubts)),
    )


def values_of(problem: Problem, scores: FloatArray) -> FloatArray:
    """Unknowns from their scores.

    Crr may come out below 0 where the runs hardly tell it: cutting it off there would pull all
    that hangs together with it. CdA is held above a value that no bicycle has.
    """
    values = problem.before + problem.before_sds * scores
    is_area = np.array([p.role == "cda" for p in problem.parameters])
    return np.where(is_area, np.maximum(values, LEAST_CDA_M2), values)


def named_values(problem: Problem, values: FloatArray) -> dict[tuple[str, str], float]:
    """Values by role and owner."""
    return {(p.role, p.owner): float(v) for p, v in zip(problem.parameters, values, strict=True)}


def _rows(problem: Problem, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Residuals over their doubt, and their slopes to scores of the unknowns."""
    named = named_values(problem, values)
    sds = problem.before_sds
    residuals: list[FloatArray] = []
    slopes: list[FloatArray] = []
    ridden: dict[object, Slopes] = {}
    for leg, root, twin in zip(problem.legs, problem.roots, problem.twins, strict=True):
        predicted, jacobian = leg_jacobian(problem, leg, named, twin=twin, ridden=ridden)
        whiten = np.linalg.inv(root)
        residuals.append(whiten @ (predicted - leg.observed))
        slopes.append(whiten @ (jacobian * sds))
    scores = (values - problem.before) / sds
    residuals.append(scores)
    slopes.append(np.eye(len(values)))
    return np.concatenate(residuals), np.vstack(slopes)


def leg_jacobian(
    problem: Problem,
    leg: Leg,
    named: dict[tuple[str, str], float],
    *,
    twin: int = 0,
    ridden: dict[object, Slopes] | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Mean prediction of a leg and its derivative to every unknown: (k,) and (k, p) arrays.

    `ridden` remembers rides by `twin` and figures, so that those of repeated runs are shared.

    What a run has anew (`OWN_ROLES`) is a random effect: times are a line in it around what was
    known beforehand, plus half the bend times its spread, which is the mean over it to second
    order (delta method, textbook). Following each run's wind to its most likely value instead
    makes CdA too large: more drag answers more to wind, so that it explains any scatter better
    (the missing determinant of a joint maximum; half a standard uncertainty over 2,000 rehearsed
    tests).
    """
    owners = owners_of_leg(leg)
    columns: dict[int, str] = {}
    at_leg = dict(named)
    for i, parameter in enumerate(problem.parameters):
        if owners.get(parameter.role, "-") == parameter.owner:
            role = "factor" if parameter.role in _FACTOR_ROLES else parameter.role
            columns[i] = role
            if role in OWN_ROLES:
                at_leg[parameter.role, parameter.owner] = parameter.before
    figures = figures_of_leg(problem.day, leg, at_leg)
    wanted = tuple(role for role in dict.fromkeys(columns.values()) if role != "rise")
    ridden = {} if ridden is None else ridden
    key = (twin, figures, wanted)
    if key not in ridden:
        ridden[key] = leg_slopes(problem.day, leg, figures, wanted)
    predicted, slopes, bends = ridden[key]
    # Rising one metre more over a length is a Crr higher by one over it.
    slopes = slopes | {"rise": leg.rise_piece[1] * slopes["crr"] / leg.length_m}
    for i, role in columns.items():
        parameter = problem.parameters[i]
        if role in OWN_ROLES:
            moved = named[parameter.role, parameter.owner] - parameter.before
            bend = bends.get(role, np.zeros_like(predicted))
            predicted = predicted + slopes[role] * moved + 0.5 * bend * parameter.before_sd**2
    jacobian = np.zeros((len(predicted), len(problem.parameters)))
    for i, role in columns.items():
        # The factor is a product: its slope to one part is that to the whole over that part.
        own = named[problem.parameters[i].role, problem.parameters[i].owner]
        share = figures.factor / own if role == "factor" else 1.0
        jacobian[:, i] = slopes[role] * share
    return predicted, jacobian


def without_run(fit: Fit, number: int) -> tuple[FloatArray, FloatArray]:
    """Values and covariance if one run had not been ridden, by one Newton step.

    Exact for a linear problem; the problem is close to linear within its doubts.
    """
    sds = fit.problem.before_sds
    normal = np.linalg.inv(fit.covariance / fit.inflation**2)
    pull = np.zeros(len(fit.values))
    for leg, residual, jacobian in zip(fit.problem.legs, fit.residuals, fit.jacobians, strict=True):
        if leg.run.number == number:
            normal = normal - jacobian.T @ jacobian
            pull += jacobian.T @ residual
    scaled = normal * np.outer(sds, sds)
    factor = cho_factor(scaled)
    step = sds * cho_solve(factor, sds * pull)
    covariance = cho_solve(factor, np.eye(len(sds))) * np.outer(sds, sds)
    return fit.values + step, covariance * fit.inflation**2


def predict_legs(fit: Fit, legs: Sequence[Leg]) -> tuple[FloatArray, FloatArray]:
    """What a fit says about any legs, ridden or not: the time to the last mark of each.

    Unknowns that the fit does not have (a wind of its own, a start speed) enter with what is
    known beforehand; each leg's own scatter is included.

    Returns
    -------
    (n,) array, (n, n) array
        Times in s and their covariance: what legs share (wind, figures) errs in all of them.
    """
    day = fit.problem.day
    readings = tuple(RunReading(run=leg.run, legs=(leg,)) for leg in legs)
    known = {(p.role, p.owner) for p in fit.problem.parameters}
    fresh = tuple(p for p in list_parameters(day, readings) if (p.role, p.owner) not in known)
    wider = replace(make_problem(day, readings), parameters=(*fit.problem.parameters, *fresh))
    values = np.concatenate((fit.values, [p.before for p in fresh]))
    n, m = len(fit.values), len(fresh)
    covariance = np.zeros((n + m, n + m))
    covariance[:n, :n] = fit.covariance
    covariance[n:, n:] = np.diag([p.before_sd**2 for p in fresh])
    named = named_values(wider, values)
    found = [leg_jacobian(wider, leg, named) for leg in legs]
    slopes = np.vstack([jacobian[-1] for _, jacobian in found])
    own = np.diag([leg.covariance(day.scatter)[-1, -1] for leg in legs])
    return np.array([predicted[-1] for predicted, _ in found]), slopes @ covariance @ slopes.T + own
