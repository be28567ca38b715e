"""What changes with time during a ride: wind, the rider's staying power, surges out of corners.

Held constant over one step of the course, taken at the middle of its expected time; for constant
wind, no decline and no surges none of this is called.
"""

from __future__ import annotations

import math

from simulator.physics.jit import kernel
from simulator.physics.params import Rules


@kernel(inline=True)
def expected_time_s(v_mps, length_m):
    """Time that a step will take at the speed at its start; 0 near standstill."""
    return 0.0 if v_mps < 0.5 else length_m / max(v_mps, 0.5)


@kernel(inline=True)
def between_entries(time_s, low, wind_times_s, winds_mps):
    """East and north component on the straight line from entry `low` of a table to the next."""
    share = (time_s - wind_times_s[low]) / (wind_times_s[low + 1] - wind_times_s[low])
    east = winds_mps[0, low] + share * (winds_mps[0, low + 1] - winds_mps[0, low])
    north = winds_mps[1, low] + share * (winds_mps[1, low + 1] - winds_mps[1, low])
    return east, north


@kernel
def entry_before(time_s, wind_times_s):
    """Index of the last entry of a table at or before a time inside it."""
    low = 0
    high = wind_times_s.shape[0] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if wind_times_s[middle] <= time_s:
            low = middle
        else:
            high = middle
    return low


@kernel
def wind_at(time_s, wind_times_s, winds_mps):
    """Straight-line look-up in a table over time; held before its start and behind its end.

    Parameters
    ----------
    time_s : float
        Time since the start.
    wind_times_s : (k,) array
        Ascending times.
    winds_mps : (2, k) array
        Components of the vector that points to where the wind comes from: east, north.

    Returns
    -------
    tuple
        East and north component in m/s.
    """
    last = wind_times_s.shape[0] - 1
    if time_s <= wind_times_s[0] or last == 0:
        return winds_mps[0, 0], winds_mps[1, 0]
    if time_s >= wind_times_s[last]:
        return winds_mps[0, last], winds_mps[1, last]
    low = entry_before(time_s, wind_times_s)
    return between_entries(time_s, low, wind_times_s, winds_mps)


@kernel
def staying_share(time_s, changes):
    """Share of the rider's power that is left after a time.

    Parameters
    ----------
    time_s : float
        Time since the start.
    changes : Changes
        From when power falls, and by how much per unit of the logarithm of time.

    Returns
    -------
    float
        1 until ``decline_after_s``, then 1 - per_log ln(time / after), not below 0.

    Notes
    -----
    The form of [Peronnet1989]: the power that can be held falls in a straight line with the
    logarithm of time.
    """
    if time_s <= changes.decline_after_s:
        return 1.0
    return max(1.0 - changes.decline_per_log * math.log(time_s / changes.decline_after_s), 0.0)


@kernel(inline=True)
def surge_share(time_s, mark_s, surge_s, expected_s):
    """Share of a step's time that lies within `surge_s` of the last corner's exit.

    Continuous in all arguments, so that a surge that ends inside a step makes no jump.
    """
    left_s = mark_s + surge_s - time_s
    at_once = 1.0 if left_s > 0.0 else 0.0
    # The least time keeps 0/0 out of the branch that is not taken.
    share = min(max(left_s / max(expected_s, 1.0e-12), 0.0), 1.0)
    return at_once if expected_s <= 0.0 else share


@kernel(inline=True)
def gained(gain_east, gain_north, east, north):
    """A wind times the complex gain that scales and turns it (see `Changes`): east, north."""
    return gain_east * east - gain_north * north, gain_north * east + gain_east * north


@kernel
def rules_now(rules, time_s, v_mps, mark_s, step, changes):
    """The ride's constants as they are during one step.

    Parameters
    ----------
    rules : Rules
        As they are at the start; their wind is the gain on the table (see `Changes`).
    time_s, v_mps : float
        Time and speed at the start of the step.
    mark_s : float
        Time at which the last corner was left.
    step : Step
        The place.
    changes : Changes
        What changes with time.

    Returns
    -------
    Rules
        With wind, power and critical power of the moment.
    """
    expected_s = expected_time_s(v_mps, step.length_m)
    middle_s = time_s + 0.5 * expected_s
    east, north = wind_at(middle_s, changes.wind_times_s, changes.winds_mps)
    wind_east, wind_north = gained(rules.wind_from_east_mps, rules.wind_from_north_mps, east, north)
    share = staying_share(middle_s, changes)
    surge = surge_share(time_s, mark_s, changes.surge_s, expected_s)
    return Rules(
        rules.weight_n,
        rules.two_over_mass_per_kg,
        rules.crr,
        rules.half_density_kgm3,
        rules.area_base_m2,
        rules.area_bend_0,
        rules.area_bend_5,
        rules.area_bend_10,
        rules.area_bend_15,
        rules.area_bend_20,
        rules.area_bend_30,
        rules.wheel_drag_area_m2,
        wind_east,
        wind_north,
        rules.efficiency,
        rules.bearing_constant_n,
        rules.bearing_slope_ns_per_m,
        rules.start_pedal_n,
        rules.inverse_grind_s_per_m,
        rules.spin_mps,
        rules.inverse_spin_width_s_per_m,
        rules.power_factor * share,
        step.surge_w * surge,
        rules.cp_w * share,
        rules.inverse_wprime_per_j,
        rules.surge_w,
        rules.reserve_on,
        rules.grip,
        rules.lean_tan,
        rules.inverse_pedal_lateral_s2_per_m,
        rules.braking_mps2,
        rules.lift_ratio,
    )
