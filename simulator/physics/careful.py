"""The careful step: one step of the course taken apart into as many pieces as it needs.

Near standstill it steps in time instead of distance; where the plain step is stiff it takes
shorter ones; where a free ride meets the speed ceiling it finds the place, and follows the
ceiling from there, pedalling less or braking.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.physics.constants import SLOW_SPEED_MPS, STALL_SPEED_MPS
from simulator.physics.forces import Forces, forces_at, reserve_rate
from simulator.physics.jit import kernel
from simulator.physics.params import FINISHED, STOPPED
from simulator.physics.step import (
    MOST_CHANGE,
    STIFF_LIMIT,
    add_work,
    forces_at_u,
    plain_step,
    stiffness_per_m,
    weighted,
)

MAX_PIECES = 20000
"""Most pieces one step may be taken apart into; a rider who needs more has stopped."""


@kernel(inline=True)
def piece_share(amount, limit):
    """Share of a way to take in one piece, where the whole of it would come to `amount`.

    Notes
    -----
    All of it up to `limit`, which is where the plain step gives up. From there on pieces come to
    less and less, down to half of `limit`: where the number of pieces changes the last one has no
    length, so that a hair more of any input moves the time by a hair.
    """
    return min(1.0, max(2.0 * limit - amount, 0.5 * limit) / max(amount, 1.0e-12))


@kernel
def slow_piece(v0, reserve0, room_m, step, rules, work, i):
    """A piece of the ride near standstill, stepped in time, of at most `room_m` metres.

    It ends at the latest at the speed from which on the ride is stepped in distance.

    Returns
    -------
    tuple
        Metres covered, speed (m/s), time (s), W' (J), outcome code.
    """
    mass_kg = 2.0 / rules.two_over_mass_per_kg
    f1 = forces_at(v0, 1.0 / v0 if v0 > 0.0 else math.inf, reserve0, step, rules)
    if v0 <= STALL_SPEED_MPS and f1.net_n <= 0.0:
        return 0.0, v0, 0.0, reserve0, STOPPED
    # Speed at which the limit on force gives way to power: the one short scale near standstill.
    drive_n = f1.pedal_n - f1.loss_n
    bend_mps = (step.power_w + rules.extra_w) * rules.power_factor / rules.start_pedal_n
    dt = 0.05
    if drive_n > 0.0:
        dt = min(dt, 0.1 * mass_kg * (v0 + bend_mps) / drive_n)
    for _ in range(60):
        half = 0.5 * dt
        v2 = max(v0 + half * f1.net_n / mass_kg, 0.0)
        f2 = forces_at(
            v2, 1.0 / v2 if v2 > 0.0 else math.inf, reserve0 + half * f1.reserve_rate_w, step, rules
        )
        v3 = max(v0 + half * f2.net_n / mass_kg, 0.0)
        f3 = forces_at(
            v3, 1.0 / v3 if v3 > 0.0 else math.inf, reserve0 + half * f2.reserve_rate_w, step, rules
        )
        v4 = max(v0 + dt * f3.net_n / mass_kg, 0.0)
        f4 = forces_at(
            v4, 1.0 / v4 if v4 > 0.0 else math.inf, reserve0 + dt * f3.reserve_rate_w, step, rules
        )
        gone_m = weighted(v0, v2, v3, v4, dt / 6.0)
        v1 = v0 + weighted(f1.net_n, f2.net_n, f3.net_n, f4.net_n, dt / 6.0) / mass_kg
        over_m = gone_m - room_m
        over_mps = v1 - SLOW_SPEED_MPS
        if over_m <= 1.0e-12 * room_m and over_mps <= 1.0e-12:
            break
        # Land on the border and at the speed: Newton on the time step, whose slopes are the speed
        # at its end and about the mean gain of speed.
        too_long_s = max(over_m, 0.0) / max(v1, v0, 1.0e-3)
        if over_mps > 0.0:
            too_long_s = max(too_long_s, over_mps * dt / (v1 - v0))
        dt -= too_long_s
    if abs(over_m) < 1.0e-9:
        gone_m = room_m
    if abs(over_mps) < 1.0e-9:
        v1 = SLOW_SPEED_MPS
    # Work is force over distance: the same stages, each over its own speed.
    sixth = dt / 6.0
    work[i, 0] += f1.gravity_n * gone_m
    work[i, 1] += weighted(f1.air_n * v0, f2.air_n * v2, f3.air_n * v3, f4.air_n * v4, sixth)
    work[i, 2] += f1.rolling_n * gone_m
    work[i, 3] += weighted(
        f1.bearing_n * v0, f2.bearing_n * v2, f3.bearing_n * v3, f4.bearing_n * v4, sixth
    )
    work[i, 4] += weighted(f1.loss_n * v0, f2.loss_n * v2, f3.loss_n * v3, f4.loss_n * v4, sixth)
    pedal_j = weighted(f1.pedal_n * v0, f2.pedal_n * v2, f3.pedal_n * v3, f4.pedal_n * v4, sixth)
    work[i, 6] += pedal_j
    reserve1 = reserve0 + weighted(
        f1.reserve_rate_w, f2.reserve_rate_w, f3.reserve_rate_w, f4.reserve_rate_w, sixth
    )
    return gone_m, max(v1, 0.0), dt, reserve1, FINISHED


@kernel(inline=True)
def held_forces(free, v_mps, slope_mps2, reserve_j, rules):
    """Forces while a ceiling whose u changes by `slope_mps2` a metre is followed.

    The rider pedals with less than wanted, or brakes: never both. `free` are the forces on a
    rider who does neither.

    Returns
    -------
    tuple
        Forces (with what the pedals really give) and the braking force in N.
    """
    kept_n = slope_mps2 / rules.two_over_mass_per_kg
    surplus_n = free.net_n - kept_n
    drive_n = free.pedal_n - free.loss_n
    less_n = min(surplus_n, drive_n)
    brake_n = surplus_n - less_n
    pedal_n = free.pedal_n - less_n / rules.efficiency
    loss_n = pedal_n * (1.0 - rules.efficiency)
    rate_w = reserve_rate(pedal_n * v_mps, reserve_j, rules)
    held = Forces(
        free.gravity_n, free.rolling_n, free.air_n, free.bearing_n, pedal_n, loss_n, kept_n, rate_w
    )
    return held, brake_n


@kernel(inline=True)
def reserve_after(reserve_j, spent_j, below_j, rules):
    """W' after work of `spent_j` above critical power and `below_j` less than it would have done.

    Notes
    -----
    What is missing falls as exp(-x), x = `below_j` / W': the differential balance, solved. One
    over a series of exp(x) keeps W' below full however long the rider brakes.
    """
    x = below_j * rules.inverse_wprime_per_j
    series = 1.0 + x * (1.0 / 2.0 + x * (1.0 / 6.0 + x * (1.0 / 24.0)))
    missing = 1.0 - reserve_j * rules.inverse_wprime_per_j
    gained_j = missing * below_j * series / (1.0 + x * series)
    return reserve_j + rules.reserve_on * (gained_j - spent_j)


@kernel(inline=True)
def held_piece(u0, u1, reserve0, free0, v0, h_m, slope_mps2, step, rules):
    """Follow a ceiling for `h_m` metres (Simpson's rule; u is linear in distance).

    Parameters
    ----------
    u0, u1, reserve0 : float
        u = v² (m²/s²) at both ends, on the ceiling, and W' (J).
    free0, v0 : Forces, float
        Forces on a rider who does not hold back, and speed, at the start.
    h_m, slope_mps2 : float
        Length in m and change of the ceiling's u a metre.
    step, rules : Step, Rules
        Place and ride.

    Returns
    -------
    tuple
        Time (s), W' (J), whether the rider must still hold back at the end,
        the held forces at start, middle and end, and the braking forces there (N).
    """
    a, brake_a = held_forces(free0, v0, slope_mps2, reserve0, rules)
    dt_s = 2.0 * h_m / (v0 + np.sqrt(max(u1, 0.0)))
    # The rate of W' is weighted over time, which stays finite where the ceiling is a standstill.
    reserve_mid = reserve0 + 0.5 * dt_s * a.reserve_rate_w
    free_mid, v_mid, _ = forces_at_u(0.5 * (u0 + u1), reserve_mid, step, rules)
    b, brake_b = held_forces(free_mid, v_mid, slope_mps2, reserve_mid, rules)
    reserve_end = reserve0 + dt_s * b.reserve_rate_w
    free_end, v_end, _ = forces_at_u(u1, reserve_end, step, rules)
    c, brake_c = held_forces(free_end, v_end, slope_mps2, reserve_end, rules)
    over_a = a.pedal_n * v0 - rules.cp_w
    over_b = b.pedal_n * v_mid - rules.cp_w
    over_c = c.pedal_n * v_end - rules.cp_w
    sixth_s = dt_s / 6.0
    spent_j = weighted(
        max(over_a, 0.0), max(over_b, 0.0), max(over_b, 0.0), max(over_c, 0.0), sixth_s
    )
    below_j = weighted(
        max(-over_a, 0.0), max(-over_b, 0.0), max(-over_b, 0.0), max(-over_c, 0.0), sixth_s
    )
    reserve1 = reserve_after(reserve0, spent_j, below_j, rules)
    holds = rules.two_over_mass_per_kg * free_end.net_n >= slope_mps2
    return dt_s, reserve1, holds, a, b, c, brake_a, brake_b, brake_c


@kernel
def first_touch(u0, reserve0, h_m, u1, slope0, slope1, ceiling0, ceiling_slope):
    """Share of a step after which a free ride meets the ceiling: root of a cubic Hermite curve.

    `slope0` and `slope1` are du/ds of the free ride at both ends (1/m * m²/s²), the ceiling is
    ``ceiling0 + ceiling_slope * x``. The free ride ends above it. Bisection guards Newton.
    """
    low = 0.0
    high = 1.0
    start_gap = u0 - ceiling0
    if start_gap >= 0.0:
        if slope0 >= ceiling_slope:
            return 0.0
        # Leaves the ceiling, then meets it again: look behind the start.
        low = 1.0e-6
    x = 0.5
    for _ in range(60):
        x2 = x * x
        x3 = x2 * x
        value = (
            u0 * (2.0 * x3 - 3.0 * x2 + 1.0) + h_m * slope0 * (x3 - 2.0 * x2 + x)
            + u1 * (3.0 * x2 - 2.0 * x3) + h_m * slope1 * (x3 - x2)
            - ceiling0 - ceiling_slope * h_m * x
        )  # fmt: skip
        rate = (
            (u0 - u1) * 6.0 * (x2 - x) + h_m * slope0 * (3.0 * x2 - 4.0 * x + 1.0)
            + h_m * slope1 * (3.0 * x2 - 2.0 * x) - ceiling_slope * h_m
        )  # fmt: skip
        if value > 0.0:
            high = x
        else:
            low = x
        if high - low < 1.0e-15:
            break
        nearer = x - value / rate if rate != 0.0 else low
        if not (low < nearer < high):
            nearer = 0.5 * (low + high)
        if abs(nearer - x) < 1.0e-14:
            x = nearer
            break
        x = nearer
    return x


@kernel
def careful_step(u0, reserve0, ceiling0, ceiling1, step, rules, work, i):
    """One step of the course taken apart into as many pieces as it needs.

    Parameters
    ----------
    u0, reserve0 : float
        u = v² and W' at its start.
    ceiling0, ceiling1 : float
        Ceiling of u at its ends.
    step, rules : Step, Rules
        Place and ride.
    work : (n, N_SUMS) array
        Work by cause is added to its row `i`.
    i : int
        Row.

    Returns
    -------
    tuple
        u1, time (s), W' (J), outcome code, metres covered.
    """
    if ceiling0 < 0.0 or ceiling1 < 0.0:
        return u0, 0.0, reserve0, STOPPED, 0.0
    k = rules.two_over_mass_per_kg
    ceiling_slope = (ceiling1 - ceiling0) / step.length_m
    slow_u = SLOW_SPEED_MPS * SLOW_SPEED_MPS
    x = 0.0
    u = min(u0, ceiling0)
    reserve = reserve0
    time_s = 0.0
    for _ in range(MAX_PIECES):
        room_m = step.length_m - x
        if room_m <= 1.0e-12 * step.length_m:
            # Where the ceiling is a standstill, what rounding leaves of the speed is not ridden.
            return min(u, ceiling1), time_s, reserve, FINISHED, step.length_m
        ceiling = ceiling0 + ceiling_slope * x
        at_ceiling = u >= ceiling * (1.0 - 1.0e-14)

        f, v, inverse_v = forces_at_u(u, reserve, step, rules)
        rises = k * f.net_n
        if at_ceiling and rises >= ceiling_slope:
            # The free ride would rise above the ceiling: follow it, as long as that is so.
            h_m = room_m
            u1 = ceiling1
            dt_s, reserve1, holds, a, b, c, brake_a, brake_b, brake_c = held_piece(
                u, u1, reserve, f, v, h_m, ceiling_slope, step, rules
            )
            if not holds:
                low = 0.0
                high = h_m
                for _ in range(60):
                    middle = 0.5 * (low + high)
                    f_mid, v_mid, inverse_mid = forces_at_u(
                        u + ceiling_slope * middle, reserve, step, rules
                    )
                    if k * f_mid.net_n >= ceiling_slope:
                        low = middle
                    else:
                        high = middle
                h_m = 0.5 * (low + high)
                u1 = max(u + ceiling_slope * h_m, 0.0)
                dt_s, reserve1, holds, a, b, c, brake_a, brake_b, brake_c = held_piece(
                    u, u1, reserve, f, v, h_m, ceiling_slope, step, rules
                )
            add_work(work, i, a, b, b, c, h_m / 6.0)
            work[i, 5] += weighted(brake_a, brake_b, brake_b, brake_c, h_m / 6.0)
            u = u1
            reserve = reserve1
            x = step.length_m if h_m == room_m else x + h_m
            time_s += dt_s
            if x < step.length_m:
                # Step off the ceiling by a hair so that the next piece is a free one.
                u = u * (1.0 - 1.0e-13)
            continue

        if u < slow_u:
            gone_m, v, dt_s, reserve, outcome = slow_piece(
                np.sqrt(u), reserve, room_m, step, rules, work, i
            )
            if outcome == STOPPED:
                return u, time_s, reserve, STOPPED, x
            x += gone_m
            time_s += dt_s
            u = v * v
            over = ceiling0 + ceiling_slope * x
            if u > over:
                # Pieces here are centimetres: what is above the ceiling is braked off at once.
                work[i, 5] += (u - over) / k
                u = over
            continue

        stiffness = stiffness_per_m(f, u, v, inverse_v, reserve, step, rules)
        h_m = room_m * min(
            piece_share(stiffness * room_m, STIFF_LIMIT),
            piece_share(abs(rises) * room_m / u, MOST_CHANGE),
        )
        u1, dt_s, reserve1, usable, f1, f2, f3, f4 = plain_step(u, reserve, h_m, step, rules)
        if not u1 > 0.25 * u:
            # Falling towards standstill: hand a short way to the stepping in time.
            u = u * (1.0 - 1.0e-13)
            gone_m, v, dt_s, reserve, outcome = slow_piece(
                np.sqrt(u), reserve, room_m, step, rules, work, i
            )
            if outcome == STOPPED:
                return u, time_s, reserve, STOPPED, x
            x += gone_m
            time_s += dt_s
            u = v * v
            continue
        limit = ceiling0 + ceiling_slope * (x + h_m)
        if u1 > limit:
            f_end, v_end, inverse_end = forces_at_u(u1, reserve1, step, rules)
            share = first_touch(u, reserve, h_m, u1, rises, k * f_end.net_n, ceiling, ceiling_slope)
            longest_m = h_m
            h_m = share * h_m
            u1, dt_s, reserve1, usable, f1, f2, f3, f4 = plain_step(u, reserve, h_m, step, rules)
            for _ in range(3):
                # The curve that was searched is not quite the step's own: Newton on the latter.
                miss = u1 - (ceiling0 + ceiling_slope * (x + h_m))
                closing = k * f4.net_n - ceiling_slope
                if abs(miss) < 1.0e-13 * u1 or closing <= 0.0:
                    break
                nearer_m = h_m - miss / closing
                if not 0.0 < nearer_m <= longest_m:
                    break
                h_m = nearer_m
                u1, dt_s, reserve1, usable, f1, f2, f3, f4 = plain_step(
                    u, reserve, h_m, step, rules
                )
            add_work(work, i, f1, f2, f3, f4, h_m / 6.0)
            x += h_m
            limit = ceiling0 + ceiling_slope * x
            # Rounding of the root is booked where it belongs, so that energy still closes.
            work[i, 5] += (u1 - limit) / k
            u = limit
            reserve = reserve1
            time_s += dt_s
            continue
        add_work(work, i, f1, f2, f3, f4, h_m / 6.0)
        x = step.length_m if h_m == room_m else x + h_m
        u = u1
        reserve = reserve1
        time_s += dt_s
    return u, time_s, reserve, STOPPED, x
