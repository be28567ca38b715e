"""Why the gap arises: an order-free split over the causes in which two builds differ.

Every mix of the two builds is ridden (2^n rides for n differing causes) and each cause gets its
Shapley value [Shapley1953]: its effect averaged over all orders in which one could change one
build into the other. The parts sum to the gap exactly, interactions included.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial, pi

import numpy as np

from simulator.compare.gap import FloatArray, Gap
from simulator.measures import Measures, Phrase, amount, joined
from simulator.pacing import Demand
from simulator.ride import simulate_many
from simulator.setup import (
    Build,
    RideSetup,
    Uncertain,
    differing_causes,
    fields_of_cause,
    mix_builds,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseGap:
    """What one cause adds to the gap.

    ``cause`` is a value of ``setup.CAUSE_OF_FIELD``; ``first_text`` and ``other_text`` name what
    differs ("7.1 kg"). The gaps of all causes add up to the total exactly.
    """

    cause: str
    gap_s: float
    share: float
    first_text: str
    other_text: str


def shapley_weights(n_causes: int) -> FloatArray:
    """Weight of a coalition of each size when one more cause joins it.

    Parameters
    ----------
    n_causes : int
        Number of causes n.

    Returns
    -------
    (n,) array
        s! (n - s - 1)! / n! for sizes s = 0 ... n - 1 [Shapley1953, eq. 13].
    """
    return np.array(
        [
            factorial(size) * factorial(n_causes - size - 1) / factorial(n_causes)
            for size in range(n_causes)
        ]
    )


def split_over_causes(values: FloatArray, n_causes: int) -> FloatArray:
    """Shapley values of every cause, from the value of every set of causes.

    Parameters
    ----------
    values : (2**n, ...) array
        Value of each set; bit i of the row number says whether cause i is in the set.
    n_causes : int
        Number of causes n.

    Returns
    -------
    (n, ...) array
        Share of each cause; their sum is ``values[-1] - values[0]``.
    """
    weights = shapley_weights(n_causes)
    numbers = np.arange(2**n_causes)
    sizes = np.array([int(number).bit_count() for number in numbers])
    parts = np.zeros((n_causes, *values.shape[1:]))
    for i_cause in range(n_causes):
        without = numbers[(numbers >> i_cause) & 1 == 0]
        joined = values[without | (1 << i_cause)] - values[without]
        parts[i_cause] = np.tensordot(weights[sizes[without]], joined, axes=1)
    return parts


def cause_gaps(
    gap: Gap, demand: Demand, bounds_m: FloatArray, *, other_demand: Demand | None = None
) -> tuple[tuple[CauseGap, ...], FloatArray]:
    """Split the gap over causes, in all and stretch by stretch.

    Parameters
    ----------
    gap : Gap
        Of two rides with the same rider and weather.
    demand : Demand
        The power both rode to.
    other_demand : Demand, optional
        The power that the other one rode to, where it is another: one more cause, "power".
    bounds_m : (n_stretches + 1,) array
        Where stretches begin and end, ascending from the start to the finish.

    Returns
    -------
    tuple
        The causes, largest first, and an (n_stretches, n_causes) array in s with columns in the
        same order; it sums to the gap.
    """
    first, other = gap.first.setup, gap.other.setup
    causes = tuple(
        cause
        for cause in differing_causes(first.build, other.build)
        if any(
            _nominal(getattr(first.build, name)) != _nominal(getattr(other.build, name))
            for name in fields_of_cause(cause)
        )
    )
    n_stretches = len(bounds_m) - 1
    demands = [demand] if other_demand is None else [demand, other_demand]
    names = (*causes, "power") if other_demand is not None else causes
    if not names:
        return (), np.zeros((n_stretches, 0))
    setups = [
        RideSetup(
            rider=first.rider,
            build=mix_builds(first.build, other.build, mixed),
            weather=first.weather,
        )
        for mixed in _all_sets(causes)
    ]
    course = gap.first.course
    # Times at nodes on both sides of each bound, so that bounds between nodes are met exactly.
    after = np.clip(
        np.searchsorted(course.node_distances_m, bounds_m), 1, course.n_segments
    ).astype(np.int64)
    marks = np.unique(np.concatenate([after - 1, after]))
    # The sets with the other power come last: its bit is the highest.
    times_s = np.concatenate(
        [
            simulate_many(
                course=course,
                setups=setups,
                demand=wanted,
                marks=marks,
                start_speed_mps=float(gap.first.node_speeds_mps[0]),
            )[:, 0, :]
            for wanted in demands
        ]
    )
    at_bounds_s = np.stack(
        [np.interp(bounds_m, course.node_distances_m[marks], row) for row in times_s]
    )
    parts_s = split_over_causes(np.diff(at_bounds_s, axis=1), len(names))
    totals_s = parts_s.sum(axis=1)
    order = np.argsort(-np.abs(totals_s), kind="stable")
    told = tuple(
        CauseGap(
            cause=names[i],
            gap_s=float(totals_s[i]),
            share=float(totals_s[i] / gap.total_s) if gap.total_s != 0.0 else 0.0,
            first_text=cause_text(first.build, names[i], other.build)
            if i < len(causes)
            else demands[0].text,
            other_text=cause_text(other.build, names[i], first.build)
            if i < len(causes)
            else demands[-1].text,
        )
        for i in order
    )
    return told, np.ascontiguousarray(parts_s[order].T)


def _nominal(value: object) -> object:
    """What is ridden of a field: its doubt alone makes no gap."""
    return value.value if isinstance(value, Uncertain) else value


def _all_sets(causes: tuple[str, ...]) -> list[frozenset[str]]:
    return [
        frozenset(cause for i, cause in enumerate(causes) if number >> i & 1)
        for number in range(2 ** len(causes))
    ]


def cause_text(build: Build, cause: str, other: Build | None = None) -> str:
    """What a build has of a cause, in a few words with units.

    Parameters
    ----------
    build : Build
        Whose.
    cause : str
        A value of ``setup.CAUSE_OF_FIELD``.
    other : Build, optional
        A cause may hold several fields: where the main one is the same as on this build, those
        that differ are told.
    """
    main, *further = _parts_of_cause(build, cause)
    if other is None:
        return main
    its_main, *its_further = _parts_of_cause(other, cause)
    if main != its_main:
        return main
    if cause == "gearing" and build.sprockets != other.sprockets:
        return _sprockets_text(build, other)
    differing = [part for part, its in zip(further, its_further, strict=True) if part != its]
    return joined(", ", differing) if differing else main


def _parts_of_cause(build: Build, cause: str) -> list[str]:
    """A text for each thing that a cause holds, the main one first."""

    def number(quantity: Uncertain, digits: int) -> str:
        return f"{quantity.value:.{digits}f}"

    turn_m = 2.0 * pi * build.wheel_radius_m
    texts: dict[str, list[str]] = {
        "mass": [Phrase("{mass}", mass=amount(Measures.mass, build.mass_kg.value))],
        "air": [
            f"CdA {number(build.cda_m2, 4)} m²",
            _yaw_text(build),
            f"wheels {number(build.wheel_drag_area_m2, 4)} m²",
        ],
        "rolling": [f"Crr {number(build.crr, 5)}"],
        "wheels": [
            f"{number(build.wheel_inertia_kgm2, 3)} kg m²",
            Phrase("{turn} a turn", turn=amount(Measures.height, turn_m, 3)),
        ],
        "bearings": [f"{number(build.bearing_factor, 2)} × standard"],
        "drivetrain": [f"{build.drivetrain_efficiency.value * 100.0:.1f} %"],
        "gearing": [f"{_rings_text(build)} × {min(build.sprockets)}-{max(build.sprockets)}"],
        "grip": [f"{number(build.grip_dry, 2)} dry, {number(build.grip_wet, 2)} wet"],
        "caution": [build.caution or "as the rider"],
    }
    return texts[cause]


def _rings_text(build: Build) -> str:
    return "/".join(str(teeth) for teeth in sorted(build.chainrings, reverse=True))


def _sprockets_text(build: Build, other: Build) -> str:
    """Gearing whose ends are those of another build: how many sprockets, or all of them."""
    if len(build.sprockets) != len(other.sprockets):
        span = f"{min(build.sprockets)}-{max(build.sprockets)}"
        return f"{_rings_text(build)} × {span}, {len(build.sprockets)}-speed"
    return f"{_rings_text(build)} × {'-'.join(str(teeth) for teeth in sorted(build.sprockets))}"


def _yaw_text(build: Build) -> str:
    """Where drag in yaw is farthest from drag at none."""
    factors = np.asarray(build.cda_factors)
    i = int(np.argmax(np.abs(factors - 1.0)))
    if factors[i] == 1.0:
        return "the same in yaw"
    return f"× {factors[i]:.3f} at {build.yaw_degs[i]:.0f}° yaw"
