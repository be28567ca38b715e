"""A catalogue of parts: what goes together, what it costs, and a build with parts on it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from simulator.setup.bike import Build
from simulator.setup.uncertain import Uncertain

CHANGED_FIELDS = (
    "mass_kg",
    "wheel_drag_area_m2",
    "crr",
    "wheel_inertia_kgm2",
    "bearing_factor",
    "drivetrain_efficiency",
    "grip_dry",
    "grip_wet",
)
"""Fields of a build that parts change by an amount; drag area comes on top, over yaw."""

OWNED_FIELDS = ("crr", "bearing_factor", "drivetrain_efficiency", "grip_dry", "grip_wet")
"""Fields that a part may also bring as they are, in place of those of the build."""

GEAR_FIELDS = ("chainrings", "sprockets", "wheel_radius_m")
"""Fields without an uncertainty that a part may bring."""

FIELD_LIMITS = {
    "mass_kg": (0.5, 60.0),
    "wheel_drag_area_m2": (0.0, 0.05),
    "crr": (0.0005, 0.05),
    "wheel_inertia_kgm2": (0.0, 1.0),
    "bearing_factor": (0.0, 20.0),
    "drivetrain_efficiency": (0.5, 1.0),
    "grip_dry": (0.05, 1.5),
    "grip_wet": (0.02, 1.5),
    "cda_m2": (0.05, 2.0),
}
"""Between these a build with parts on it must stay for its figures to mean anything."""

CENTS = 100
"""Prices are added up in whole hundredths, so that a sum that fits a budget to the cent fits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A place on the bike, or a habit, and what is there now.

    ``resale`` is what the thing there brings when a bought part takes its place.
    """

    name: str
    now: str
    resale: float
    provides: frozenset[str]
    needs: frozenset[str]
    excludes: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Something that can be bought or done, and what it changes on the build as it is.

    ``changes`` holds (field, amount) for fields of `CHANGED_FIELDS`, ``owns`` (field, value) for
    those of `OWNED_FIELDS`. The change of drag area is ``cda_changes_m2`` at the angles
    ``yaw_degs`` (ascending, from 0), in the convention of `Build`; its doubt ``cda_change_sd_m2``
    is the same shift at all angles. Gears and wheel radius are None where the part has none.
    """

    name: str
    slots: tuple[str, ...]
    price: float
    labour: float
    changes: tuple[tuple[str, Uncertain], ...]
    owns: tuple[tuple[str, Uncertain], ...]
    yaw_degs: tuple[float, ...]
    cda_changes_m2: tuple[float, ...]
    cda_change_sd_m2: float
    chainrings: tuple[int, ...] | None
    sprockets: tuple[int, ...] | None
    wheel_radius_m: float | None
    provides: frozenset[str]
    needs: frozenset[str]
    excludes: frozenset[str]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """Slots of one build and the parts that may come into them."""

    currency: str
    slots: tuple[Slot, ...]
    parts: tuple[Part, ...]
    provides: frozenset[str]
    source: str

    def part(self, name: str) -> Part:
        """The part of a name.

        Raises
        ------
        KeyError
            If there is none.
        """
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)


def part_cents(catalogue: Catalogue, part: Part) -> int:
    """What a part costs in hundredths: price and labour less the resale of what comes off."""
    resale = sum(slot.resale for slot in catalogue.slots if slot.name in part.slots)
    return round((part.price + part.labour - resale) * CENTS)


def misfits(catalogue: Catalogue, parts: Sequence[Part]) -> tuple[str, ...]:
    """Why some parts cannot be on the bike together.

    Parameters
    ----------
    catalogue : Catalogue
        Tells what stays in the slots that no part takes.
    parts : sequence of Part
        What is to be fitted.

    Returns
    -------
    tuple of str
        Sentences without full stop; empty when all goes together.
    """
    taken: dict[str, str] = {}
    reasons = []
    for part in parts:
        for slot in part.slots:
            if slot in taken:
                reasons.append(f"slot {slot}: both {taken[slot]} and {part.name} take it")
            taken[slot] = part.name
    kept = [(slot.now, slot) for slot in catalogue.slots if slot.name not in taken]
    things: list[tuple[str, Slot | Part]] = [*kept, *((part.name, part) for part in parts)]
    providers = {tag: "the bike" for tag in catalogue.provides}
    for name, thing in things:
        providers |= dict.fromkeys(thing.provides, name)
    for name, thing in things:
        for tag in sorted(thing.needs - set(providers)):
            reasons.append(f"{name}: only with “{tag}”")
        for tag in sorted(thing.excludes & set(providers)):
            reasons.append(f"{name}: not with “{tag}” ({providers[tag]})")
    return tuple(reasons)


def together(own: Any, changes: Iterable[Any]) -> Any:
    """The one rule of what parts make of a field: own value plus all changes, in slot order.

    Works on numbers and on arrays alike.
    """
    for change in changes:
        own = own + change
    return own


def apply_parts(build: Build, catalogue: Catalogue, parts: Sequence[Part]) -> Build:
    """A build with parts on it.

    Parameters
    ----------
    build : Build
        As it stands now.
    catalogue : Catalogue
        Where the parts come from.
    parts : sequence of Part
        What is fitted.

    Returns
    -------
    Build
        Doubts of what is added up are taken as independent.

    Raises
    ------
    ValueError
        If the parts do not go together.
    """
    reasons = misfits(catalogue, parts)
    if reasons:
        raise ValueError("; ".join(reasons))
    order = {slot.name: i for i, slot in enumerate(catalogue.slots)}
    parts = sorted(parts, key=lambda part: order[part.slots[0]])
    fitted: dict[str, Any] = {}
    for field in CHANGED_FIELDS:
        own = next((q for part in parts for f, q in part.owns if f == field), getattr(build, field))
        changes = [q for part in parts for f, q in part.changes if f == field]
        fitted[field] = Uncertain(
            together(own.value, (change.value for change in changes)),
            math.hypot(own.sd, *(change.sd for change in changes)),
        )
    fitted |= _drag_areas(build, parts)
    spent = sum(part_cents(catalogue, part) for part in parts) / CENTS
    names = ", ".join(part.name for part in parts)
    return replace(
        with_gears(build, parts),
        name=f"{build.name} with {names}" if parts else build.name,
        price=None if build.price is None else build.price + spent,
        **fitted,
    )


def with_gears(build: Build, parts: Iterable[Part]) -> Build:
    """A build with nothing of some parts but their gears and wheel size.

    Parameters
    ----------
    build : Build
        As it stands now.
    parts : iterable of Part
        Those without any of `GEAR_FIELDS` change nothing.
    """
    brought: dict[str, Any] = {}
    for part in parts:
        for field in GEAR_FIELDS:
            if getattr(part, field) is not None:
                brought[field] = getattr(part, field)
    return replace(build, **brought) if brought else build


def _drag_areas(build: Build, parts: Sequence[Part]) -> dict[str, Any]:
    yaw_degs = np.unique(np.concatenate([build.yaw_degs, *(part.yaw_degs for part in parts)]))
    areas_m2 = together(
        build.cda_m2.value * np.interp(yaw_degs, build.yaw_degs, build.cda_factors),
        (np.interp(yaw_degs, part.yaw_degs, part.cda_changes_m2) for part in parts),
    )
    sd_m2 = math.hypot(build.cda_m2.sd, *(part.cda_change_sd_m2 for part in parts))
    return {
        "cda_m2": Uncertain(float(areas_m2[0]), sd_m2),
        "yaw_degs": tuple(yaw_degs.tolist()),
        "cda_factors": tuple((areas_m2 / areas_m2[0]).tolist()),
    }
