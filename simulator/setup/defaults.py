"""Values that hold when a file does not say otherwise, each with its source.

All are taken as exact when they come from here; write a value with its ``sd`` to state a doubt.
Keys are in the units of the files that people write.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

SOURCE: Final = "defaults of buildgap"
"""The source of a rider or a weather that was not given at all."""

WHEEL_DRAG_AREA_M2 = 0.0044
"""Drag area for turning both wheels: [Martin1998], from memory."""

WHEEL_INERTIA_KGM2 = 0.14
"""Both wheels together: [Martin1998], from memory."""

WHEEL_CIRCUMFERENCE_M = 2.11
"""Rolled length of one turn, 700 x 25 mm tyre under load: common practice, no source."""

BEARING_FACTOR = 1.0
"""The bearing loss of [Martin1998] as it stands."""

DRIVETRAIN_EFFICIENCY = 0.976
"""[Martin1998], from memory; a solo chain lost 2.1 ± 1.5 % at 100 to 400 W in [Smit2023]."""

CHAINRINGS = (34, 50)
"""A common road pair: common practice, no source."""

SPROCKETS = (11, 12, 13, 14, 15, 17, 19, 21, 24, 27, 30)
"""A common road cassette: common practice, no source."""

GRIP_DRY = 0.8
"""Middle of the working range 0.7 to 0.9 on clean dry asphalt: common practice, no source.

A test rig measured about 1.0 as the most that a bicycle tyre gives [VTI952]; a road is not a rig.
"""

GRIP_WET = 0.5
"""Middle of the working range 0.4 to 0.6 on clean wet asphalt: common practice, no source."""

RIDER_MASS_KG = 75.0
"""Body and clothing: common practice, no source."""

KIT_KG = 3.0
"""Shoes, helmet, two bottles, tools and food: common practice, no source."""

KIT_WITHOUT_BOTTLES_KG = 1.8
"""The same without the bottles, where a file tells these by themselves."""

POWER_W = 230.0
"""An amateur's steady power over an hour: common practice, no source."""

CADENCE_TOP_RPM = 115.0
"""Above this the rider coasts: common practice, no source."""

CADENCE_LOW_RPM = 40.0
"""Below this power falls off with speed: common practice, no source."""

START_FORCE_N = 150.0
"""About 90 kg on a 170 mm crank in the gear 50 x 17: common practice, no source."""

COAST_GRADE_PCT = -7.0
"""Steeper down than this the rider stops pedalling: common practice, no source."""

COAST_SPEED_KMH = 55.0
"""Above this the rider stops pedalling: common practice, no source."""

CAUTION: Final = "steady"
"""Name of the level that holds unasked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionLevel:
    """What a rider is willing to use: lean, lean with pedalling, braking in units of g."""

    lean_deg: float
    pedal_lean_deg: float
    braking_g: float


CAUTION_LEVELS = {
    "careful": CautionLevel(lean_deg=20.0, pedal_lean_deg=15.0, braking_g=0.25),
    "steady": CautionLevel(lean_deg=30.0, pedal_lean_deg=22.0, braking_g=0.40),
    "bold": CautionLevel(lean_deg=35.0, pedal_lean_deg=26.0, braking_g=0.50),
}
"""Levels of caution by plain names.

Lean: the tangent is what is used sideways in g, 0.36, 0.58 and 0.70; 0.5 to 0.7 g are called
sensible (from memory). Lean with pedalling: a pedal nears the road beyond it (common practice, no
source). Braking: 0.40 g is the lower end of the 0.40 to 0.71 g measured with both brakes on dry
asphalt [SAE2020]; 0.25 and 0.50 g are common practice, no source. All are limits of a model for
comparing builds: a predicted speed is never advice to ride it.
"""

PEDAL_DELAY_S = 0.0
"""Pedalling begins again at the exit of a corner: a plain assumption."""

CLIMBING_FACTOR = 1.13
"""Hands on the hoods over hands in the drops, 0.175 over 0.155 [Lim2011]."""

CLIMBING_GRADE_PCT = 4.0
"""Where the rider sits up: common practice, no source."""

CLIMBING_SPEED_KMH = 20.0
"""Faster than this the rider goes back to the drops: common practice, no source."""

TUCK_FACTOR = 0.95
"""Low position over hands in the drops, 0.262 over 0.276 [Grappe1997], from memory."""

TUCK_GRADE_PCT = -4.0
"""Where the rider makes themselves low: common practice, no source."""

TUCK_SPEED_KMH = 45.0
"""Slower than this the rider stays in the drops: common practice, no source."""

TEMPERATURE_DEGC = 15.0
"""Standard atmosphere at sea level [ISO2533]."""

PRESSURE_HPA = 1013.25
"""Standard atmosphere at sea level [ISO2533]."""

STATION_HEIGHT_M = 0.0
"""Sea level, as in most forecasts."""

PRESSURE_IS: Final = "at the station"
"""What a barometer shows; with the height 0 it is the same as reduced to sea level."""

HUMIDITY_PCT = 50.0
"""Common practice, no source; 0 to 100 % changes the air by 0.6 % at 15 °C."""

WIND_KMH = 0.0
"""A calm day, so that no direction is favoured unasked."""

WIND_FROM_DEG = 0.0
"""North; without wind it does not matter."""

RIDER_HEIGHT_M = 1.2
"""Chest of a rider in the drops above the road: common practice, no source."""
