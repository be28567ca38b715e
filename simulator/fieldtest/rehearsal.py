"""A test day rehearsed: measurements drawn from the ride model with known figures.

For checking that a fit finds again what was put in, and for trying a plan before riding it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from simulator.fieldtest.infer import Problem
from simulator.fieldtest.legride import leg_prediction
from simulator.fieldtest.legs import Leg
from simulator.fieldtest.parameters import figures_of_leg

Truth = Mapping[tuple[str, str], float]
"""Values of all unknowns by role and owner."""


def draw_truth(problem: Problem, rng: np.random.Generator) -> dict[tuple[str, str], float]:
    """Values of all unknowns from what is known beforehand; the builds' figures as stated."""
    truth = {
        (p.role, p.owner): float(p.before + p.before_sd * rng.standard_normal())
        for p in problem.parameters
    }
    for tested in problem.day.builds:
        for role, value in (("cda", tested.build.cda_m2), ("crr", tested.build.crr)):
            if (role, tested.name) in truth:
                truth[role, tested.name] = value.value
    return truth


def rehearsed(problem: Problem, truth: Truth, rng: np.random.Generator) -> Problem:
    """The same problem with measurements that these values would have given, with noise.

    Timing, the run's own scatter and the notes of speeds at the start are drawn with their
    stated doubts; what was known beforehand (wind notes, mass, meter) stays as noted.
    """
    legs = {leg.name: _measured(problem, leg, truth, rng) for leg in problem.legs}
    readings = tuple(
        replace(reading, legs=tuple(legs[leg.name] for leg in reading.legs))
        for reading in problem.readings
    )
    ordered = tuple(leg for reading in readings for leg in reading.legs)
    scatter = problem.day.scatter
    return replace(
        problem,
        readings=readings,
        legs=ordered,
        roots=tuple(np.asarray(np.linalg.cholesky(leg.covariance(scatter))) for leg in ordered),
    )


def _measured(problem: Problem, leg: Leg, truth: Truth, rng: np.random.Generator) -> Leg:
    figures = figures_of_leg(problem.day, leg, dict(truth))
    exact = leg_prediction(problem.day, leg, figures)
    as_ridden = (
        replace(leg, times_s=exact) if leg.stop_m is None else replace(leg, stop_m=float(exact[0]))
    )
    root = np.linalg.cholesky(as_ridden.covariance(problem.day.scatter))
    seen = exact + root @ rng.standard_normal(len(exact))
    if leg.stop_m is None:
        return replace(leg, times_s=seen)
    return replace(leg, stop_m=float(seen[0]))
