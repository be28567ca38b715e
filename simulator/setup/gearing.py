"""What the gears allow: speeds at a cadence."""

from __future__ import annotations

import math

from simulator.setup.bike import Build

SECONDS_PER_MINUTE = 60.0


def road_speed_mps(
    *, cadence_rpm: float, chainring: int, sprocket: int, wheel_radius_m: float
) -> float:
    """Speed at which a gear turns the cranks at a cadence.

    Parameters
    ----------
    cadence_rpm : float
        Turns of the cranks per minute.
    chainring, sprocket : int
        Teeth in front and behind.
    wheel_radius_m : float
        Rolling radius of the wheel.

    Returns
    -------
    float
        Speed in m/s.
    """
    wheel_turns_per_s = cadence_rpm / SECONDS_PER_MINUTE * chainring / sprocket
    return wheel_turns_per_s * 2.0 * math.pi * wheel_radius_m


def top_speed_mps(build: Build, cadence_rpm: float) -> float:
    """Speed in the highest gear of a build at a cadence in turns per minute, in m/s."""
    return road_speed_mps(
        cadence_rpm=cadence_rpm,
        chainring=max(build.chainrings),
        sprocket=min(build.sprockets),
        wheel_radius_m=build.wheel_radius_m,
    )


def low_speed_mps(build: Build, cadence_rpm: float) -> float:
    """Speed in the lowest gear of a build at a cadence in turns per minute, in m/s."""
    return road_speed_mps(
        cadence_rpm=cadence_rpm,
        chainring=min(build.chainrings),
        sprocket=max(build.sprockets),
        wheel_radius_m=build.wheel_radius_m,
    )
