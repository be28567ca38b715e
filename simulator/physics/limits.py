"""Speed ceilings: what grip, lean and braking allow at each place.

These are limits of a model, for comparing builds. A predicted speed is never advice to ride it.
"""

from __future__ import annotations

import numpy as np

from simulator.physics.constants import NO_CEILING_M2PS2, NO_WAY, STANDARD_GRAVITY_MPS2
from simulator.physics.jit import kernel
from simulator.physics.step import step_at


@kernel(inline=True)
def corner_speed_squared(inverse_radius_per_m, sin_slope, cos_slope, grip, lean_tan):
    """Square of the highest steady speed through a corner, the lower of grip and lean.

    Parameters
    ----------
    inverse_radius_per_m : float
        Of the line ridden; 0 on a straight.
    sin_slope, cos_slope : float
        Of the slope angle along the road.
    grip : float
        Friction coefficient.
    lean_tan : float
        Tangent of the largest lean angle.

    Returns
    -------
    float
        m²/s²; ``inf`` on a straight; 0 where the slope takes all the grip.

    Notes
    -----
    Flat road: v² = mu g r and v² = tan(lean) g r (textbook). On a slope the tyres also hold the
    bike against it (g sin), which leaves sqrt((mu g cos)² - (g sin)²) sideways. Banking is
    left out.
    """
    if inverse_radius_per_m == 0.0:
        return np.inf
    g = STANDARD_GRAVITY_MPS2
    side_squared = (grip * g * cos_slope) ** 2 - (g * sin_slope) ** 2
    lateral = min(np.sqrt(max(side_squared, 0.0)), lean_tan * g * cos_slope)
    return lateral / inverse_radius_per_m


@kernel(inline=True)
def slowing_mps2(step, rules, tyres_mps2, willing_mps2):
    """Deceleration along the road that the rider can and will reach at one place.

    Parameters
    ----------
    step, rules : Step, Rules
        Place and ride.
    tyres_mps2, willing_mps2 : float
        What turning leaves of the tyres' grip and of the rider's willingness to brake.

    Returns
    -------
    float
        m/s², gravity included, air left out; may be negative where a steep descent takes more
        than the tyres hold.

    Notes
    -----
    Pitching over the front wheel starts at a deceleration of g (l/h cos + sin), uphill positive,
    with l/h the centre of mass's distance behind the front contact over its height. Holding
    against a descent is free of the rider's willingness.
    """
    g = STANDARD_GRAVITY_MPS2
    lift = g * rules.lift_ratio * step.cos_slope
    willing = willing_mps2 + max(-g * step.sin_slope, 0.0)
    return min(min(tyres_mps2, lift), willing) + g * step.sin_slope


@kernel(inline=True)
def ceiling_at_start(step, node, limit, slowing):
    """Ceiling of u (m²/s²) at a step's start, from that at its end and what its bend allows."""
    before = node + 2.0 * slowing * step.length_m
    start = min(before, limit) if before >= 0.0 else NO_WAY
    # Behind a place that nobody gets past the ride ends; nobody brakes for it.
    start = limit if node < 0.0 else start
    start = NO_CEILING_M2PS2 if node >= NO_CEILING_M2PS2 else start
    # Two stops with no step between them are one: along a ceiling of 0 nobody gets anywhere.
    return 0.0 if (step.standstill > 0.0) & (node != 0.0) else start


@kernel(inline=True)
def ceiling_before_straight(step, rules, ahead, behind):
    """`ceiling_before` where the road does not turn."""
    node = min(behind, ahead)
    hold = STANDARD_GRAVITY_MPS2 * step.cos_slope * (rules.grip * step.grip_factor)
    slowing = slowing_mps2(step, rules, hold, rules.braking_mps2)
    return ceiling_at_start(step, node, NO_CEILING_M2PS2, slowing), node, NO_CEILING_M2PS2


@kernel(inline=True)
def ceiling_before_bend(step, rules, ahead, behind):
    """`ceiling_before` where the road turns.

    Notes
    -----
    Tyres share their grip between turning and braking on an ellipse; so does the rider's
    willingness between corner speed and braking.
    """
    grip = rules.grip * step.grip_factor
    curve = step.inverse_radius_per_m
    corner = corner_speed_squared(curve, step.sin_slope, step.cos_slope, grip, rules.lean_tan)
    limit = min(corner, NO_CEILING_M2PS2) if corner > 0.0 else NO_WAY
    node = min(min(limit, behind), ahead)
    hold = STANDARD_GRAVITY_MPS2 * step.cos_slope * grip
    turning = node * curve
    tyres = np.sqrt(max(hold * hold - turning * turning, 0.0))
    use = min(node / corner, 1.0)
    willing = rules.braking_mps2 * np.sqrt(max(1.0 - use * use, 0.0))
    slowing = slowing_mps2(step, rules, tyres, willing)
    return ceiling_at_start(step, node, limit, slowing), node, limit


@kernel(inline=True)
def ceiling_before(step, rules, ahead, behind):
    """Ceilings at both ends of one step, from what lies ahead.

    Parameters
    ----------
    step, rules : Step, Rules
        Place and ride.
    ahead : float
        Ceiling of u at its end as far as the road ahead sets it (m²/s²).
    behind : float
        What the next step's own corner allows.

    Returns
    -------
    tuple
        Ceiling at the step's start, ceiling at its end, what its own corner allows; m²/s².
    """
    if step.inverse_radius_per_m == 0.0:
        return ceiling_before_straight(step, rules, ahead, behind)
    return ceiling_before_bend(step, rules, ahead, behind)


@kernel
def fill_ceilings(steps, rules, ceilings):
    """Square of the ceiling speed at every node, corners and braking for them included.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    rules : Rules
        The ride's constants.
    ceilings : (n + 1,) array
        Filled with u_max in m²/s². Between nodes it is linear in distance, which is what steady
        braking makes of u = v².

    Notes
    -----
    Corner limits first (the lower of both neighbours at a node), then backward: the ceiling at a
    node is at most what braking over the step brings down to the ceiling behind it. Where the
    rider must stop and start again it is 0, where no speed will do (a bend on a slope that takes
    all the grip, or that does not let the rider slow down for what comes) it is `NO_WAY`.
    """
    n = steps.shape[0]
    ahead = NO_CEILING_M2PS2
    behind = NO_CEILING_M2PS2
    ceilings[n] = ahead
    for i in range(n - 1, -1, -1):
        if steps[i, 11] == 0.0 and behind >= NO_CEILING_M2PS2 and ahead >= NO_CEILING_M2PS2:
            ahead = 0.0 if steps[i, 15] > 0.0 else NO_CEILING_M2PS2
        else:
            ahead, ceilings[i + 1], behind = ceiling_before(step_at(steps, i), rules, ahead, behind)
        ceilings[i] = ahead
