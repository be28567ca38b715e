"""Every constant the kernels use, with unit and source."""

import math

STANDARD_GRAVITY_MPS2 = 9.80665
"""Standard acceleration of gravity, m/s² (ISO 80000-3)."""

DRY_AIR_GAS_CONSTANT = 287.05287
"""Specific gas constant of dry air, J/(kg K) [ISO2533]."""

LAPSE_RATE_K_PER_M = 0.0065
"""Fall of temperature with height in the standard atmosphere, K/m [ISO2533]."""

VAPOUR_MASS_DEFICIT = 1.0 - 0.62198
"""One minus the ratio of the molar masses of water and dry air (18.01528 / 28.9646)."""

BEARING_CONSTANT_N = 0.091
BEARING_SLOPE_NS_PER_M = 0.0087
"""Bearing drag of two wheels: power v (91 + 8.7 v) 1e-3 W, so force 0.091 + 0.0087 v N
[Martin1998, eq. 5]."""

YAW_NODES_DEG = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 90.0)
"""Yaw angles at which the kernels hold drag area. Between them it is linear in the squared sine of
yaw: the natural variable of a function that is even and smooth at zero yaw."""

SIN2_5, SIN2_10, SIN2_15, SIN2_20, SIN2_30 = (
    math.sin(math.radians(a)) ** 2 for a in YAW_NODES_DEG[1:6]
)

NO_CEILING_M2PS2 = 2500.0
"""Square of the speed that stands for "no corner limits this place" (50 m/s, 180 km/h)."""

NO_WAY = -1.0
"""Stands in place of a ceiling where no speed will do."""

STALL_SPEED_MPS = 0.3
"""Below this speed, and still slowing, a rider is taken to have stopped (common practice, no
source: nobody balances a bicycle at 1 km/h)."""

SLOW_SPEED_MPS = 2.0
"""Below this speed the ride is stepped in time instead of distance, where it stays smooth down to
standstill."""

FADE_WIDTH_MPS = 1.0
"""Half-width over which the rider changes position with speed."""

SPIN_FADE_SHARE = 0.05
"""Pedalling fades out over the last 5 % of the speed reached at top cadence."""

LEAN_FADE = 5.0
"""Pedalling fades out over the last fifth of the lateral acceleration at which it stops."""
