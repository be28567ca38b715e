"""How sure the gap is: paired draws of everything that carries a standard uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import legvander

from simulator.compare.gap import FloatArray, Gap
from simulator.pacing import Demand
from simulator.ride import paired_draws, simulate_many

LOW, HIGH = 0.05, 0.95
"""The interval holds the middle 90 % of the draws."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtShare:
    """How much of the gap's variance one uncertain input brings."""

    name: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """The spread of a gap over draws; the names are those of `Doubt`."""

    gaps_s: FloatArray
    mean_s: float
    sd_s: float
    low_s: float
    high_s: float
    interval_error_s: float
    chance_first_faster: float
    n_stopped: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Doubt:
    """The spread of the gap.

    ``low_s`` and ``high_s`` hold the middle 90 % of the draws, ``sd_s`` is their standard
    deviation, ``chance_first_faster`` the share of draws with a gap above zero.
    ``interval_error_s`` is the Monte-Carlo standard error of the interval's ends. Draws in which
    a rider does not reach the finish are left out and counted in ``n_stopped``.
    """

    n_draws: int
    seed: int
    gaps_s: FloatArray
    mean_s: float
    sd_s: float
    low_s: float
    high_s: float
    interval_error_s: float
    chance_first_faster: float
    shares: tuple[DoubtShare, ...]
    n_stopped: int = 0

    @property
    def chance_other_faster(self) -> float:
        """Share of draws with a gap below zero; a tie counts for neither."""
        return float((self.gaps_s < 0.0).mean())


def doubt_of(
    gap: Gap,
    demand: Demand,
    *,
    n_draws: int,
    seed: int,
    first_s: FloatArray | None = None,
    other_demand: Demand | None = None,
) -> tuple[Doubt | None, FloatArray | None]:
    """Ride both builds through paired draws of all that is uncertain.

    Parameters
    ----------
    gap : Gap
        Of two rides with the same rider and weather.
    demand : Demand
        The power both rode to.
    n_draws, seed : int
        Number of draws and their seed: same seed, same answer.
    first_s : (n_draws,) array, optional
        Times of the first build in the same draws, where they are known from another comparison.
    other_demand : Demand, optional
        The power that the other one rode to, where it is another.

    Returns
    -------
    tuple
        The doubt, None when every input is taken as exact or no draws are wanted, and the times
        of the first build for the next comparison.
    """
    setups = [gap.first.setup, gap.other.setup]
    drawn = paired_draws(setups, n_draws=n_draws, seed=seed)
    if n_draws < 2 or not drawn.labels:
        return None, None

    def ridden_s(which: slice, wanted: Demand) -> FloatArray:
        return simulate_many(
            course=gap.first.course,
            setups=setups[which],
            demand=wanted,
            draws=drawn.per_setup[which],
            start_speed_mps=float(gap.first.node_speeds_mps[0]),
        )[:, :, 0]

    if other_demand is not None:
        first_s = ridden_s(slice(1), demand)[0] if first_s is None else first_s
        other_s = ridden_s(slice(1, 2), other_demand)[0]
    else:
        times_s = ridden_s(slice(0 if first_s is None else 1, 2), demand)
        first_s, other_s = (times_s[0] if first_s is None else first_s), times_s[-1]
    spread = spread_of(first_s, other_s)
    if spread is None:
        return None, first_s
    finished = np.isfinite(first_s) & np.isfinite(other_s)
    shares = variance_shares(drawn.scores[finished], spread.gaps_s)
    doubt = Doubt(
        n_draws=n_draws,
        seed=seed,
        gaps_s=spread.gaps_s,
        mean_s=spread.mean_s,
        sd_s=spread.sd_s,
        low_s=spread.low_s,
        high_s=spread.high_s,
        interval_error_s=spread.interval_error_s,
        chance_first_faster=spread.chance_first_faster,
        shares=tuple(
            DoubtShare(name=name, share=float(share))
            for name, share in zip(drawn.labels, shares, strict=True)
            if np.isfinite(share)
        ),
        n_stopped=spread.n_stopped,
    )
    return doubt, first_s


def spread_of(first_s: FloatArray, other_s: FloatArray) -> Spread | None:
    """The spread of a gap over paired draws.

    Parameters
    ----------
    first_s, other_s : (n,) arrays
        Times of both builds in each draw, ``inf`` where the ride stops: such draws are counted
        and left out.

    Returns
    -------
    Spread or None
        None where fewer than two draws are left.
    """
    finished = np.isfinite(first_s) & np.isfinite(other_s)
    gaps_s = other_s[finished] - first_s[finished]
    if len(gaps_s) < 2:
        return None
    low_s, high_s = np.quantile(gaps_s, [LOW, HIGH])
    return Spread(
        gaps_s=gaps_s,
        mean_s=float(gaps_s.mean()),
        sd_s=float(gaps_s.std(ddof=1)),
        low_s=float(low_s),
        high_s=float(high_s),
        interval_error_s=quantile_error(gaps_s),
        chance_first_faster=float((gaps_s > 0.0).mean()),
        n_stopped=int((~finished).sum()),
    )


def quantile_error(values: FloatArray) -> float:
    """Monte-Carlo standard error of the interval's ends, in the unit of the values.

    Half the distance between the quantiles one binomial standard error below and above (order
    statistics; David and Nagaraja 2003, section 7.1), the mean of both ends.
    """
    errors = []
    for level in (LOW, HIGH):
        step = np.sqrt(level * (1.0 - level) / len(values))
        below, above = np.quantile(values, [max(level - step, 0.0), min(level + step, 1.0)])
        errors.append(0.5 * (above - below))
    return float(np.mean(errors))


def variance_shares(scores: FloatArray, values: FloatArray, *, degree: int = 3) -> FloatArray:
    """First-order share of the variance of some values that each input brings.

    Parameters
    ----------
    scores : (n, k) array
        Independent standard normal inputs.
    values : (n,) array
        Results.
    degree : int
        Highest polynomial of each input in the regression.

    Returns
    -------
    (k,) array
        Shares; what is missing to 1 is interaction between inputs and noise of the regression.
        NaN where there are too few draws to tell (fewer than two for each input).

    Notes
    -----
    Least squares on a straight line in each score and Legendre polynomials in its rank (after
    [Sudret2008], where the polynomials are those of the input's own curve): the line is what
    small doubts give, the polynomials take any bend and stay tame in the tails. An input's share
    is the variance, over the same draws, of its own part of the fit; the share that pure chance
    would bring is taken off.
    """
    n, k = scores.shape
    variance = values.var()
    if variance == 0.0:
        return np.zeros(k)
    # A fit needs several draws for each of its terms: with few draws only straight lines are told,
    # with fewer still nothing is.
    while degree > 0 and n < 3 * (1 + k * (degree + 1)):
        degree -= 1
    if n < 2 * (1 + k):
        return np.full(k, np.nan)
    # The error function of the standard library: scipy.special would slow every start.
    halves = (scores * math.sqrt(0.5)).ravel().tolist()
    levels = np.fromiter(map(math.erf, halves), dtype=np.float64, count=n * k).reshape(n, k)
    parts = [
        np.column_stack([scores[:, i], legvander(levels[:, i], degree)[:, 1:]]) for i in range(k)
    ]
    design = np.column_stack([np.ones(n), *parts])
    # QR rather than lstsq's SVD: the same answer on columns as tame as these, ten times sooner.
    orthonormal, triangle = np.linalg.qr(design)
    found = np.linalg.solve(triangle, orthonormal.T @ values)
    residual = values - design @ found
    chance = (degree + 1) * (residual @ residual) / max(n - design.shape[1], 1) / n
    coefficients = found[1:].reshape(k, degree + 1)
    explained = np.array([(part @ c).var() for part, c in zip(parts, coefficients, strict=True)])
    return np.asarray(np.maximum(explained - chance, 0.0) / variance)
