"""Paired draws of everything that carries a standard uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from simulator.ride.prepare import Draws
from simulator.setup import Build, Rider, RideSetup, Uncertain, Weather

FloatArray = NDArray[np.float64]

ANY_SIGN = frozenset({"weather.temperature_degc", "weather.wind_from_deg"})
"""Inputs of any sign: drawn from a bell curve. The others are drawn so as to stay positive."""

LOSS_OF_ONE = frozenset({"build.drivetrain_efficiency"})
"""Shares just below 1: what is missing to 1 is drawn."""

PERCENT = frozenset({"weather.humidity_pct"})
"""Inputs between 0 and 100."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairedDraws:
    """Draws for several setups that share rider and weather.

    Attributes
    ----------
    labels : tuple of str
        One for each uncertain input, as the user knows it ("Plover: crr").
    scores : (n_draws, n_inputs) array
        Standard normal scores behind the draws, independent of each other.
    per_setup : tuple of Draws
        Values for each setup; what is shared has the same values in all.
    """

    labels: tuple[str, ...]
    scores: FloatArray
    per_setup: tuple[Draws, ...]


def paired_draws(setups: Sequence[RideSetup], *, n_draws: int, seed: int) -> PairedDraws:
    """Draw every uncertain input of some setups.

    Parameters
    ----------
    setups : sequence of RideSetup
        With the same rider and weather; each build is drawn on its own.
    n_draws : int
        Number of draws.
    seed : int
        Same seed, same draws.

    Returns
    -------
    PairedDraws
        Without inputs when everything is taken as exact.
    """
    shared = [
        *uncertain_inputs("rider", setups[0].rider),
        *uncertain_inputs("weather", setups[0].weather),
    ]
    own = [uncertain_inputs("build", setup.build) for setup in setups]
    n_inputs = len(shared) + sum(len(inputs) for inputs in own)
    # One column an input: adding an input at the end leaves the draws of the others alone.
    scores = (
        np.stack(
            [np.random.default_rng([seed, i]).standard_normal(n_draws) for i in range(n_inputs)],
            axis=1,
        )
        if n_inputs
        else np.empty((n_draws, 0))
    )

    labels = [name for name, _ in shared]
    shared_values = {
        name: draw_values(name, quantity, scores[:, i]) for i, (name, quantity) in enumerate(shared)
    }
    per_setup = []
    i_next = len(shared)
    for setup, inputs in zip(setups, own, strict=True):
        values = dict(shared_values)
        for name, quantity in inputs:
            values[name] = draw_values(name, quantity, scores[:, i_next])
            labels.append(f"{setup.build.name}: {name.removeprefix('build.')}")
            i_next += 1
        if not values:
            # A setup that is exact beside one that is not still rides once a draw.
            values["build.mass_kg"] = np.full(n_draws, setup.build.mass_kg.value)
        per_setup.append(values)
    return PairedDraws(labels=tuple(labels), scores=scores, per_setup=tuple(per_setup))


def draw_values(name: str, quantity: Uncertain, scores: FloatArray) -> FloatArray:
    """Values of one input for standard normal scores.

    Parameters
    ----------
    name : str
        Input name; decides what the values can be.
    quantity : Uncertain
        Mean and standard deviation of the values.
    scores : (n,) array
        Standard normal scores.

    Returns
    -------
    (n,) array
        A bell curve where the sign is free. Else a log-normal curve with the stated mean and
        standard deviation (closed-form moments, textbook), which is a bell curve in the limit of
        small doubt and never negative. A stated mean of 0 with a doubt gives the half of a bell.
    """
    if name in ANY_SIGN:
        return quantity.value + quantity.sd * scores
    if name in LOSS_OF_ONE:
        return 1.0 - _positive(1.0 - quantity.value, quantity.sd, -scores)
    if name in PERCENT:
        return _between(quantity.value / 100.0, quantity.sd / 100.0, scores) * 100.0
    return _positive(quantity.value, quantity.sd, scores)


def _positive(mean: float, sd: float, scores: FloatArray) -> FloatArray:
    if mean <= 0.0:
        return np.asarray(np.abs(sd * scores))
    variance = np.log1p((sd / mean) ** 2)
    return np.asarray(mean * np.exp(np.sqrt(variance) * scores - 0.5 * variance))


def _between(mean: float, sd: float, scores: FloatArray) -> FloatArray:
    """Values in 0 to 1: a bell curve on the log-odds, of the stated spread to first order."""
    mean = min(max(mean, 0.01), 0.99)
    odds = np.log(mean / (1.0 - mean)) + sd / (mean * (1.0 - mean)) * scores
    return np.asarray(1.0 / (1.0 + np.exp(-odds)))


def uncertain_inputs(prefix: str, thing: Rider | Build | Weather) -> list[tuple[str, Uncertain]]:
    """Names and quantities of all that carries a standard uncertainty.

    Parameters
    ----------
    prefix : str
        What the names begin with, as in "rider".
    thing : Rider, Build or Weather
        Where to look.
    """
    inputs = []
    for field in fields(thing):
        value = getattr(thing, field.name)
        if isinstance(value, Uncertain) and value.sd > 0.0:
            inputs.append((f"{prefix}.{field.name}", value))
    return inputs
