"""A build: one bike as it stands at the start line, and which cause each of its fields is."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.setup.uncertain import Uncertain


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One bike build, with the drag area of the rider sitting on it.

    ``cda_m2`` is the drag area at zero yaw in the reference position (hands in the drops),
    rider included. ``cda_factors`` scales it at the angles ``yaw_degs`` (ascending, from 0),
    referred to the square of the apparent wind. ``wheel_drag_area_m2`` is the extra area for
    turning the wheels. ``wheel_inertia_kgm2`` is both wheels together with tyres;
    ``wheel_radius_m`` the rolling radius. ``bearing_factor`` scales the standard bearing loss.
    ``grip_dry`` and ``grip_wet`` are friction coefficients of the tyres on clean asphalt.
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
}
"""The one cause that each physical field of a build belongs to."""

LABEL_FIELDS = ("name", "price", "source")
"""Fields that change no ride."""
