"""What a fit makes doubtful: runs that no such build can ride, gusts, scatter beyond the stated."""

from __future__ import annotations

import numpy as np

from simulator.fieldtest.infer import (
    LACK_LEVEL,
    Fit,
    against_stated,
    leg_jacobian,
    named_values,
)
from simulator.measures import Measures, Phrase, amount, stopwatch
from simulator.setup import ride_wind_sd_mps, turbulence_mps

IMPLAUSIBLE_STATED = 0.25
"""More than any CdA or Crr that a bicycle may have changes a pedalled run (rounded upwards)."""


def ask_about_fit(fit: Fit) -> tuple[str, ...]:
    """Sentences about what the fit makes doubtful."""
    return (*_implausible(fit), *_gusts(fit), *_lack(fit))


def _implausible(fit: Fit) -> list[str]:
    """Runs that no build near the stated one can have ridden with their power."""
    found = []
    for leg in fit.problem.legs:
        seen, stated = against_stated(fit.problem.day, leg)
        is_piece = leg.run.written.kind == "free"
        if is_piece or leg.stop_m is not None or abs(seen / stated - 1.0) <= IMPLAUSIBLE_STATED:
            continue
        why = "drafted" if seen < stated else "held up"
        found.append(
            f"Run {leg.name} took {stopwatch(seen)}; its power, its road and the build as stated "
            f"make it {stopwatch(stated)}. Was it {why}, or is its power wrong?"
        )
    return found


def _gusts(fit: Fit) -> list[str]:
    """Gusts that scatter times more than stated.

    A fit takes a run's scatter as stated, gusts included (who rides a climb again and again sees
    them all in it): to widen its wind by the forecast's gusts as well would count them twice. A
    run with a wind of its own has that wind's doubt besides, which covers them.
    """
    worst, at_most = fit.problem.day.scatter, None
    groups = [leg.run.wind_group for leg in fit.problem.legs]
    for leg in fit.problem.legs:
        weather = leg.run.weather
        owner = leg.run.wind_group
        if weather.gust_mps is None or leg.stop_m is not None:
            continue
        named = named_values(fit.problem, fit.values)
        if ("wind_east", owner) not in named:
            continue
        _, slopes = leg_jacobian(fit.problem, leg, named)
        from_rad = np.radians(weather.wind_from_deg.value)
        along = np.sin(from_rad) * slopes[-1, fit.index("wind_east", owner)]
        along += np.cos(from_rad) * slopes[-1, fit.index("wind_north", owner)]
        turbulence = turbulence_mps(weather.wind_mps.value, weather.gust_mps)
        gust_sd_mps = ride_wind_sd_mps(turbulence, leg.length_m)
        if groups.count(owner) == 1 and gust_sd_mps <= fit.problem.day.wind_sd_mps:
            continue
        sd_s = abs(along) * gust_sd_mps
        if sd_s / leg.times_s[-1] > worst:
            worst, at_most = sd_s / leg.times_s[-1], leg
    if at_most is None or at_most.run.weather.gust_mps is None:
        return []
    return [
        Phrase(
            "Gusts of {gust} alone scatter the time of run {run} by {share} %, more than the "
            "{stated} % stated: raise `scatter_pct`, or ride on a calmer day.",
            gust=amount(Measures.speed, at_most.run.weather.gust_mps, 0),
            run=at_most.name,
            share=f"{100.0 * worst:.1f}",
            stated=f"{100.0 * fit.problem.day.scatter:g}",
        )
    ]


def _lack(fit: Fit) -> list[str]:
    if fit.chance >= LACK_LEVEL:
        return []
    return [
        f"The runs scatter more than stated (chi² {fit.chi2:.0f} for {fit.n_observations} "
        f"measurements, chance {fit.chance:.1g}): all doubts were widened by a factor "
        f"{fit.inflation:.1f}. Something changed between runs that the file does not tell."
    ]
