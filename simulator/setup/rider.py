"""Who rides."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.setup.uncertain import Uncertain

NOTHING = Uncertain(0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Positions:
    """How the rider's drag area changes with the way they sit; 1 is the position of `Build.cda_m2`.

    ``climbing_factor`` holds on grades of at least ``climbing_grade`` at speeds well below
    ``climbing_speed_mps`` and fades to 1 above it; ``tuck_factor`` holds on grades of at most
    ``tuck_grade`` above ``tuck_speed_mps``. The fades are 1 m/s wide to either side. Where more
    than ``standing_power_w`` is wanted on a grade of at least ``climbing_grade``, the rider is out
    of the saddle and ``standing_factor`` holds at any speed; None leaves that out.
    """

    climbing_factor: float
    climbing_grade: float
    climbing_speed_mps: float
    tuck_factor: float
    tuck_grade: float
    tuck_speed_mps: float
    standing_factor: float | None = None
    standing_power_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """Body, power and habits of the rider, equal for all builds compared.

    ``mass_kg`` is body plus clothing, ``kit_kg`` shoes, helmet and what the pockets hold,
    ``bottles_kg`` full bottles where they are not part of the kit. ``power_w`` is the steady
    power ridden when no other pacing is given. ``coast_grade`` and ``coast_speed_mps``: on grades
    steeper down than this, or above this speed, the rider stops pedalling. ``lean_deg`` and
    ``braking_g`` (in units of g) are what the rider is
    willing to use; ``pedal_lean_deg`` is the lean above which they do not pedal; ``caution`` is
    the level that the three were taken from, with what the file changed.
    ``start_force_n`` is the most the rider can push along the road, at a standstill or in a sprint.
    ``max_power_w`` is the most for a few seconds, with or without a reserve. ``pedal_delay_s`` is
    the time between a tight corner's exit and the first pedal stroke.
    ``decline_after_s`` and ``decline_per_log``: from then on power falls by that share for each
    unit of the logarithm of time; None leaves it out. ``cp_sd_w`` and ``wprime_sd_j`` are the
    standard uncertainties of ``cp_w`` and ``wprime_j``; 0 where the file states none.
    """

    name: str
    mass_kg: Uncertain
    kit_kg: Uncertain
    power_w: Uncertain
    cadence_top_rpm: float
    cadence_low_rpm: float
    start_force_n: float
    coast_grade: float
    coast_speed_mps: float
    lean_deg: float
    pedal_lean_deg: float
    braking_g: float
    positions: Positions
    cp_w: float | None
    wprime_j: float | None
    max_power_w: float | None
    source: str
    pedal_delay_s: float = 0.0
    decline_after_s: float | None = None
    decline_per_log: float = 0.0
    bottles_kg: Uncertain = NOTHING
    caution: str = ""
    cp_sd_w: float = 0.0
    wprime_sd_j: float = 0.0
