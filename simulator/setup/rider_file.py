"""The file of a rider: its keys, their limits and meanings; file -> `Rider`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.files import (
    StrictSchema,
    UncertainField,
    ValueWithSd,
    in_range,
    problem,
    read_toml,
)
from simulator.setup import defaults
from simulator.setup.rider import Positions, Rider
from simulator.setup.uncertain import uncertain_of
from simulator.setup.written import source_text
from simulator.units import fraction_from_pct, j_from_kj, mps_from_kmh, s_from_h

UNNAMED = "The rider"
"""What a rider is called in a file without a name."""


class PositionsTable(StrictSchema):
    """How the drag area changes with the way the rider sits; 1 is hands in the drops."""

    climbing_factor: Annotated[float, in_range(0.7, 2.0, why="1 is hands in the drops")] = Field(
        default=defaults.CLIMBING_FACTOR,
        description="drag area when sitting up to climb, over the one in the drops",
    )
    climbing_grade_pct: Annotated[float, in_range(0.0, 30.0, why="percent up")] = Field(
        default=defaults.CLIMBING_GRADE_PCT,
        description="grade in percent from which the rider sits up",
    )
    climbing_speed_kmh: Annotated[float, in_range(0.0, 60.0)] = Field(
        default=defaults.CLIMBING_SPEED_KMH,
        description="speed in km/h above which the rider stays in the drops all the same",
    )
    tuck_factor: Annotated[float, in_range(0.5, 1.5, why="1 is hands in the drops")] = Field(
        default=defaults.TUCK_FACTOR,
        description="drag area when low on a descent, over the one in the drops",
    )
    tuck_grade_pct: Annotated[float, in_range(-40.0, 0.0, why="percent, negative is down")] = Field(
        default=defaults.TUCK_GRADE_PCT,
        description="grade in percent, negative, from which the rider makes themselves low",
    )
    tuck_speed_kmh: Annotated[float, in_range(0.0, 100.0)] = Field(
        default=defaults.TUCK_SPEED_KMH,
        description="speed in km/h above which the rider makes themselves low there",
    )
    standing_factor: Annotated[float, in_range(0.7, 2.0, why="1 is hands in the drops")] | None = (
        Field(
            default=None,
            description="drag area out of the saddle, over the one in the drops; needs "
            "`standing_power_w`",
        )
    )
    standing_power_w: Annotated[float, in_range(50.0, 3000.0)] | None = Field(
        default=None,
        description="power in W above which the rider leaves the saddle where "
        "`climbing_grade_pct` is reached",
    )

    @model_validator(mode="after")
    def _both(self) -> PositionsTable:
        if (self.standing_factor is None) != (self.standing_power_w is None):
            there, missing = "standing_factor", "standing_power_w"
            if self.standing_factor is None:
                there, missing = missing, there
            raise problem(
                key=there,
                found=f"`{missing}` is missing",
                expected="both or neither",
                mend=f"add `{missing}` or leave out `{there}`",
            )
        return self


class RiderFile(StrictSchema):
    """Keys of a rider's file. Everything has a default."""

    name: str = Field(
        default="Default rider",
        min_length=1,
        max_length=60,
        description="what to call the rider; in a file without it “The rider”",
    )
    mass_kg: Annotated[UncertainField, in_range(25.0, 200.0, why="body and clothing")] = Field(
        default=ValueWithSd(value=defaults.RIDER_MASS_KG),
        description="the mass of body and clothing, in kg",
    )
    kit_kg: Annotated[UncertainField, in_range(0.0, 30.0)] = Field(
        default=ValueWithSd(value=defaults.KIT_KG),
        description="the mass of shoes, helmet, tools and food, in kg; of the bottles too, unless "
        "`bottles_kg` tells it",
    )
    bottles_kg: Annotated[UncertainField, in_range(0.0, 10.0, why="bottles with drink")] | None = (
        Field(default=None, description="the mass of the bottles as they are at the start, in kg")
    )
    power_w: Annotated[UncertainField, in_range(20.0, 1000.0, why="held for the whole ride")] = (
        Field(
            default=ValueWithSd(value=defaults.POWER_W),
            description="the steady power at the pedals, in W",
        )
    )
    cadence_top_rpm: Annotated[float, in_range(60.0, 250.0, why="turns per minute")] = Field(
        default=defaults.CADENCE_TOP_RPM,
        description="cadence above which the rider coasts, in turns per minute",
    )
    cadence_low_rpm: Annotated[float, in_range(10.0, 90.0, why="turns per minute")] = Field(
        default=defaults.CADENCE_LOW_RPM,
        description="cadence below which power falls off, in turns per minute",
    )
    start_force_n: Annotated[float, in_range(20.0, 1000.0, why="along the road")] = Field(
        default=defaults.START_FORCE_N,
        description="the most that the rider can push along the road, at a standstill or in a "
        "sprint, in N",
    )
    coast_grade_pct: Annotated[float, in_range(-50.0, 0.0, why="percent, negative is down")] = (
        Field(
            default=defaults.COAST_GRADE_PCT,
            description="grade in percent, negative, below which the rider stops pedalling",
        )
    )
    coast_speed_kmh: Annotated[float, in_range(20.0, 150.0)] = Field(
        default=defaults.COAST_SPEED_KMH,
        description="speed in km/h above which the rider stops pedalling",
    )
    caution: Literal["careful", "steady", "bold"] = Field(
        default=defaults.CAUTION,
        description="how much of lean and braking the rider uses, where the three keys below do "
        "not say it",
    )
    lean_deg: Annotated[float, in_range(5.0, 50.0, why="degrees off the vertical")] | None = Field(
        default=None,
        description="the furthest that the rider is willing to lean in a corner, in degrees",
    )
    pedal_lean_deg: Annotated[float, in_range(5.0, 50.0, why="degrees off the vertical")] | None = (
        Field(default=None, description="lean above which the rider does not pedal, in degrees")
    )
    braking_g: Annotated[float, in_range(0.05, 0.8, why="multiples of g")] | None = Field(
        default=None,
        description="the hardest that the rider is willing to brake, in multiples of g",
    )
    pedal_delay_s: Annotated[float, in_range(0.0, 5.0, why="seconds")] = Field(
        default=defaults.PEDAL_DELAY_S,
        description="time from the exit of a tight corner to the first pedal stroke, in s",
    )
    decline_after_h: Annotated[float, in_range(0.05, 24.0, why="hours")] | None = Field(
        default=None,
        description="time from which power slowly falls, in h; needs `decline_per_log`",
    )
    decline_per_log: (
        Annotated[float, in_range(0.0, 0.3, why="share of power for each unit of ln(time)")] | None
    ) = Field(
        default=None,
        description="share of power lost each time that the time grows 2.72-fold; needs "
        "`decline_after_h`",
    )
    cp_w: Annotated[UncertainField, in_range(20.0, 700.0)] | None = Field(
        default=None, description="critical power, in W; needs `wprime_kj`"
    )
    wprime_kj: Annotated[UncertainField, in_range(0.5, 80.0, why="kilojoules")] | None = Field(
        default=None, description="W′, the work that can be done above critical power, in kJ"
    )
    max_power_w: Annotated[float, in_range(50.0, 3000.0)] | None = Field(
        default=None, description="the highest power for a few seconds, as in a sprint, in W"
    )
    source: str = Field(
        default="", max_length=400, description="where the figures come from, in a few words"
    )
    positions: PositionsTable = Field(
        default_factory=PositionsTable,
        description="how the drag area changes with the way the rider sits",
    )

    @model_validator(mode="after")
    def _agreed(self) -> RiderFile:
        if self.cadence_low_rpm >= self.cadence_top_rpm:
            raise problem(
                key="cadence_low_rpm",
                found=f"found {self.cadence_low_rpm:g}",
                expected=f"less than `cadence_top_rpm` ({self.cadence_top_rpm:g})",
            )
        for pair in (("cp_w", "wprime_kj"), ("decline_after_h", "decline_per_log")):
            given = [key for key in pair if getattr(self, key) is not None]
            if len(given) == 1:
                (there,) = given
                missing = pair[1 - pair.index(there)]
                raise problem(
                    key=there,
                    found=f"`{missing}` is missing",
                    expected="both or neither",
                    mend=f"add `{missing}` or leave out `{there}`",
                )
        cp_w = None if self.cp_w is None else self.cp_w.value
        if cp_w is not None and self.max_power_w is not None and self.max_power_w <= cp_w:
            raise problem(
                key="max_power_w",
                found=f"found {self.max_power_w:g}",
                expected=f"more than `cp_w` ({cp_w:g})",
            )
        level = defaults.CAUTION_LEVELS[self.caution]
        lean_deg = level.lean_deg if self.lean_deg is None else self.lean_deg
        if self.pedal_lean_deg is not None and self.pedal_lean_deg > lean_deg:
            raise problem(
                key="pedal_lean_deg",
                found=f"found {self.pedal_lean_deg:g}",
                expected=f"at most the lean in a corner, {lean_deg:g}",
                mend="lower it, or raise `lean_deg`",
            )
        return self


def load_rider(path: Path | None) -> Rider:
    """Read the file of a rider; without a file, the default rider.

    Parameters
    ----------
    path : Path or None
        A TOML file.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.
    """
    if path is None:
        return default_rider()
    return rider_of(read_toml(path, RiderFile), fallback_source=f"file {path.name}")


def default_rider() -> Rider:
    """The rider that rides when no file is given; all values in ``defaults.py``."""
    return rider_of(RiderFile(source=defaults.SOURCE))


def rider_of(written: RiderFile, *, fallback_source: str = "") -> Rider:
    """Turn checked keys into a `Rider`.

    Parameters
    ----------
    written : RiderFile
        The keys.
    fallback_source : str
        Told as the source when the file names none.
    """
    is_unnamed = "name" not in written.model_fields_set and written.source != defaults.SOURCE
    positions = written.positions
    level = defaults.CAUTION_LEVELS[written.caution]
    lean_deg = level.lean_deg if written.lean_deg is None else written.lean_deg
    pedal_lean_deg = written.pedal_lean_deg
    if pedal_lean_deg is None:
        pedal_lean_deg = min(level.pedal_lean_deg, lean_deg)
    kit_kg = written.kit_kg
    if written.bottles_kg is not None and "kit_kg" not in written.model_fields_set:
        kit_kg = ValueWithSd(value=defaults.KIT_WITHOUT_BOTTLES_KG)
    return Rider(
        name=UNNAMED if is_unnamed else written.name,
        mass_kg=uncertain_of(written.mass_kg),
        kit_kg=uncertain_of(kit_kg),
        bottles_kg=uncertain_of(written.bottles_kg or ValueWithSd(value=0.0)),
        power_w=uncertain_of(written.power_w),
        cadence_top_rpm=written.cadence_top_rpm,
        cadence_low_rpm=written.cadence_low_rpm,
        start_force_n=written.start_force_n,
        coast_grade=fraction_from_pct(written.coast_grade_pct),
        coast_speed_mps=mps_from_kmh(written.coast_speed_kmh),
        caution=_caution_words(written),
        lean_deg=lean_deg,
        pedal_lean_deg=pedal_lean_deg,
        braking_g=level.braking_g if written.braking_g is None else written.braking_g,
        pedal_delay_s=written.pedal_delay_s,
        decline_after_s=(
            None if written.decline_after_h is None else s_from_h(written.decline_after_h)
        ),
        decline_per_log=written.decline_per_log or 0.0,
        positions=Positions(
            climbing_factor=positions.climbing_factor,
            climbing_grade=fraction_from_pct(positions.climbing_grade_pct),
            climbing_speed_mps=mps_from_kmh(positions.climbing_speed_kmh),
            tuck_factor=positions.tuck_factor,
            tuck_grade=fraction_from_pct(positions.tuck_grade_pct),
            tuck_speed_mps=mps_from_kmh(positions.tuck_speed_kmh),
            standing_factor=positions.standing_factor,
            standing_power_w=positions.standing_power_w,
        ),
        cp_w=None if written.cp_w is None else written.cp_w.value,
        cp_sd_w=0.0 if written.cp_w is None else written.cp_w.sd,
        wprime_j=None if written.wprime_kj is None else j_from_kj(written.wprime_kj.value),
        wprime_sd_j=0.0 if written.wprime_kj is None else j_from_kj(written.wprime_kj.sd),
        max_power_w=written.max_power_w,
        source=source_text(written, fallback_source),
    )


def _caution_words(written: RiderFile) -> str:
    """The level by its name, with what the file says otherwise."""
    own = [
        key
        for key in ("lean_deg", "pedal_lean_deg", "braking_g")
        if getattr(written, key) is not None
    ]
    return f"{written.caution}, but for {', '.join(own)}" if own else written.caution
