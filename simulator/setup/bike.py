"""A build: one bike as it stands at the start line, and which cause each of its fields is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from simulator.setup.uncertain import Uncertain


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One bike build, with the drag area of the rider sitting on it.

    ``cda_m2`` is the drag area at zero yaw in the reference position (hands in the drops),
    rider included. ``cda_factors`` scales it at the angles ``yaw_degs`` (ascending, from 0);
    drag along the road is half density times area times apparent wind times its part along the
    road. ``wheel_drag_area_m2`` is the extra area for
    turning the wheels. ``wheel_inertia_kgm2`` is both wheels together with tyres;
    ``wheel_radius_m`` the rolling radius. ``bearing_factor`` scales the standard bearing loss.
    ``grip_dry`` and ``grip_wet`` are friction coefficients of the tyres on clean asphalt.
    ``caution`` is a level of `setup.defaults.CAUTION_LEVELS` at which this build is ridden instead
    of as the rider rides any other; None, the rule, holds skill and caution equal.
    """

    name: str
    mass_kg: Uncertain
    cda_m2: Uncertain
    yaw_degs: tuple[float, ...]
    cda_factors: tuple[float, ...]
    wheel_drag_area_m2: Uncertain
    crr: Uncertain
    wheel_inertia_kgm2: Uncertain
    wheel_radius_m: float
    bearing_factor: Uncertain
    drivetrain_efficiency: Uncertain
    chainrings: tuple[int, ...]
    sprockets: tuple[int, ...]
    grip_dry: Uncertain
    grip_wet: Uncertain
    price: float | None
    source: str
    caution: str | None = None


CAUSE_OF_FIELD: dict[str, str] = {
    "mass_kg": "mass",
    "cda_m2": "air",
    "yaw_degs": "air",
    "cda_factors": "air",
    "wheel_drag_area_m2": "air",
    "crr": "rolling",
    "wheel_inertia_kgm2": "wheels",
    "wheel_radius_m": "wheels",
    "bearing_factor": "bearings",
    "drivetrain_efficiency": "drivetrain",
    "chainrings": "gearing",
    "sprockets": "gearing",
    "grip_dry": "grip",
    "grip_wet": "grip",
    "caution": "caution",
}
"""The one cause that each physical field of a build belongs to."""

LABEL_FIELDS = ("name", "price", "source")
"""Fields that change no ride."""


CAUSES = tuple(dict.fromkeys(CAUSE_OF_FIELD.values()))
"""Every cause once, in the order in which the fields name them."""


def fields_of_cause(cause: str) -> tuple[str, ...]:
    """Fields of a build that belong to a cause.

    Parameters
    ----------
    cause : str
        A value of `CAUSE_OF_FIELD`.

    Raises
    ------
    KeyError
        If there is no such cause.
    """
    names = tuple(name for name, its_cause in CAUSE_OF_FIELD.items() if its_cause == cause)
    if not names:
        raise KeyError(cause)
    return names


def differing_causes(first: Build, other: Build) -> tuple[str, ...]:
    """Causes in which two builds differ in any field, in the order of `CAUSES`."""
    return tuple(
        cause
        for cause in CAUSES
        if any(getattr(first, name) != getattr(other, name) for name in fields_of_cause(cause))
    )


def mix_builds(first: Build, other: Build, causes_from_other: frozenset[str]) -> Build:
    """The first build with every field of some causes taken from another one.

    Parameters
    ----------
    first, other : Build
        The two builds.
    causes_from_other : frozenset of str
        Causes, each a value of `CAUSE_OF_FIELD`; labels stay those of the first build.

    Returns
    -------
    Build
        With none it equals `first`; with all of them it rides like `other`.

    Raises
    ------
    KeyError
        If there is no such cause.
    """
    taken: dict[str, Any] = {}
    for cause in causes_from_other:
        taken.update((name, getattr(other, name)) for name in fields_of_cause(cause))
    return replace(first, **taken)


def numbered_apart(builds: Sequence[Build]) -> list[Build]:
    """The same builds, those after the first of a name with a number behind it."""
    seen: dict[str, int] = {}
    told = []
    for build in builds:
        number = seen[build.name] = seen.get(build.name, 0) + 1
        told.append(build if number == 1 else replace(build, name=f"{build.name} {number}"))
    return told
