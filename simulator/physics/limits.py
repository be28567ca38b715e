"""Speed ceilings: what grip, lean and braking allow at each place.

These are limits of a model, for comparing builds. A predicted speed is never advice to ride it.
"""

from __future__ import annotations

import numpy as np

from simulator.physics.constants import NO_CEILING_M2PS2, NO_WAY, STANDARD_GRAVITY_MPS2
from simulator.physics.jit import kernel


@kernel
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


@kernel
def braking_limit_mps2(
    u_m2ps2,
    corner_m2ps2,
    sin_slope,
    cos_slope,
    inverse_radius_per_m,
    grip,
    lift_ratio,
    braking_mps2,
):
    """Deceleration along the road that the rider can and will reach at one place.

    Parameters
    ----------
    u_m2ps2, corner_m2ps2 : float
        Square of the speed, and of the highest speed through here (> 0, ``inf`` on a straight).
    sin_slope, cos_slope : float
        Of the slope angle, uphill positive.
    inverse_radius_per_m, grip : float
        Of the line; friction coefficient.
    lift_ratio : float
        Centre of mass: distance behind the front contact over height; pitching over the front
        wheel starts at a deceleration of g (l/h cos + sin), uphill positive.
    braking_mps2 : float
        What the rider is willing to use.

    Returns
    -------
    float
        m/s², gravity included, air left out; may be negative where a steep descent takes more
        than the tyres hold.

    Notes
    -----
    Tyres share their grip between turning and braking on an ellipse; so does the rider's
    willingness between corner speed and braking, but holding against a descent is free of it.
    """
    g = STANDARD_GRAVITY_MPS2
    hold = g * cos_slope * grip
    tyres = hold
    willing = braking_mps2
    if inverse_radius_per_m != 0.0:
        turning = u_m2ps2 * inverse_radius_per_m
        tyres = np.sqrt(max(hold * hold - turning * turning, 0.0))
        use = min(u_m2ps2 / corner_m2ps2, 1.0)
        willing = braking_mps2 * np.sqrt(1.0 - use * use)
    lift = g * lift_ratio * cos_slope
    willing += max(-g * sin_slope, 0.0)
    return min(min(tyres, lift), willing) + g * sin_slope


@kernel
def ceiling_before(steps, i, rules, ahead, behind):
    """Ceilings at both ends of one step, from what lies ahead.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    i : int
        The step.
    rules : Rules
        The ride's constants.
    ahead : float
        Ceiling of u at its end as far as the road ahead sets it (m²/s²).
    behind : float
        What the next step's own corner allows.

    Returns
    -------
    tuple
        Ceiling at the step's start, ceiling at its end, what its own corner allows; m²/s².
    """
    sin_slope = steps[i, 1]
    cos_slope = steps[i, 2]
    curve = steps[i, 11]
    grip = rules.grip * steps[i, 12]
    corner = corner_speed_squared(curve, sin_slope, cos_slope, grip, rules.lean_tan)
    limit = min(corner, NO_CEILING_M2PS2) if corner > 0.0 else NO_WAY
    node = min(min(limit, behind), ahead)
    if node >= NO_CEILING_M2PS2:
        start = NO_CEILING_M2PS2
    elif node < 0.0:
        # The ride ends there; nobody brakes for it.
        start = limit
    else:
        slowing = braking_limit_mps2(
            node,
            corner,
            sin_slope,
            cos_slope,
            curve,
            grip,
            rules.lift_ratio,
            rules.braking_mps2,
        )
        before = node + 2.0 * slowing * steps[i, 0]
        start = min(before, limit) if before >= 0.0 else NO_WAY
    # Two stops with no step between them are one: along a ceiling of 0 nobody gets anywhere.
    if steps[i, 15] > 0.0 and node != 0.0:
        start = 0.0
    return start, node, limit


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
            ahead, ceilings[i + 1], behind = ceiling_before(steps, i, rules, ahead, behind)
        ceilings[i] = ahead
