"""The file of a build: its keys, their limits and meanings; file -> `Build`."""

from __future__ import annotations

import math
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
from simulator.setup.bike import Build
from simulator.setup.uncertain import uncertain_of
from simulator.setup.written import source_text

MAX_YAW_DEG = 60.0

YawConvention = Literal["along_wind", "tunnel_axial", "road_axial"]


class YawTable(StrictSchema):
    """How the drag area changes in cross-wind."""

    angles_deg: Annotated[
        tuple[float, ...], in_range(0.0, MAX_YAW_DEG, why="degrees off the direction of travel")
    ] = Field(description="angles of the apparent wind to the direction of travel, from 0 upward")
    factors: Annotated[tuple[float, ...], in_range(-1.0, 3.0, why="1 is the drag at angle 0")] = (
        Field(description="drag area at each angle over the one at angle 0")
    )
    convention: YawConvention = Field(
        default="along_wind",
        description=(
            "what the factors multiply: `along_wind` apparent wind times its part along the road, "
            "`tunnel_axial` the apparent wind squared, "
            "`road_axial` its part along the road squared"
        ),
    )

    @model_validator(mode="after")
    def _matched(self) -> YawTable:
        if len(self.angles_deg) != len(self.factors):
            raise problem(
                key="factors",
                found=f"found {len(self.factors)} factors for {len(self.angles_deg)} angles",
                expected="one factor for each angle",
            )
        if not self.angles_deg or self.angles_deg[0] != 0.0:
            raise problem(
                key="angles_deg",
                found="the first angle is not 0",
                expected="angles that begin at 0",
                mend="add the angle 0 with the factor 1",
            )
        if self.factors[0] != 1.0:
            raise problem(
                key="factors",
                found=f"the factor at angle 0 is {self.factors[0]:g}",
                expected="1",
                mend="divide all factors by the first one",
            )
        pairs = zip(self.angles_deg, self.angles_deg[1:], strict=False)
        if any(later <= earlier for earlier, later in pairs):
            raise problem(
                key="angles_deg",
                found="the angles do not grow from one to the next",
                expected="each angle larger than the one before it",
            )
        return self


class BuildFile(StrictSchema):
    """Keys of a build's file."""

    name: str = Field(min_length=1, max_length=60, description="what to call this build")
    mass_kg: Annotated[
        UncertainField, in_range(0.0, 60.0, open_low=True, why="bike without rider")
    ] = Field(description="the mass of the bike with pedals, cages and computer, in kg")
    cda_m2: Annotated[UncertainField, in_range(0.1, 1.0, why="rider and bike together")] = Field(
        description="the drag area of rider and bike with hands in the drops, in m²"
    )
    crr: Annotated[UncertainField, in_range(0.001, 0.03, why="smooth track to gravel")] = Field(
        description="the coefficient of rolling resistance on smooth dry asphalt"
    )
    wheel_drag_area_m2: Annotated[
        UncertainField, in_range(0.0, 0.05, why="for turning both wheels")
    ] = Field(
        default=ValueWithSd(value=defaults.WHEEL_DRAG_AREA_M2),
        description="the extra drag area for turning both wheels, in m²",
    )
    wheel_inertia_kgm2: Annotated[
        UncertainField, in_range(0.0, 1.0, why="both wheels with tyres")
    ] = Field(
        default=ValueWithSd(value=defaults.WHEEL_INERTIA_KGM2),
        description="the moment of inertia of both wheels with tyres, in kg m²",
    )
    wheel_circumference_m: Annotated[
        float, in_range(1.0, 2.5, why="one turn of the wheel in metres, as 2.11")
    ] = Field(
        default=defaults.WHEEL_CIRCUMFERENCE_M,
        description="the way that one turn of the loaded wheel rolls, in m",
    )
    bearing_factor: Annotated[
        UncertainField, in_range(0.0, 10.0, why="1 is the standard bearing loss")
    ] = Field(
        default=ValueWithSd(value=defaults.BEARING_FACTOR),
        description="bearing loss over the standard one",
    )
    drivetrain_efficiency: Annotated[
        UncertainField, in_range(0.8, 1.0, why="power at the wheel over power at the pedals")
    ] = Field(
        default=ValueWithSd(value=defaults.DRIVETRAIN_EFFICIENCY),
        description="power at the wheel over power at the pedals",
    )
    chainrings: Annotated[tuple[int, ...], in_range(16, 75, why="teeth")] = Field(
        default=defaults.CHAINRINGS,
        min_length=1,
        max_length=3,
        description="teeth of each chainring",
    )
    sprockets: Annotated[tuple[int, ...], in_range(8, 60, why="teeth")] = Field(
        default=defaults.SPROCKETS,
        min_length=1,
        max_length=14,
        description="teeth of each sprocket",
    )
    grip_dry: Annotated[UncertainField, in_range(0.1, 1.3, why="friction coefficient")] = Field(
        default=ValueWithSd(value=defaults.GRIP_DRY),
        description="friction of the tyres on clean dry asphalt",
    )
    grip_wet: Annotated[UncertainField, in_range(0.05, 1.0, why="friction coefficient")] = Field(
        default=ValueWithSd(value=defaults.GRIP_WET),
        description="friction of the tyres on clean wet asphalt",
    )
    caution: Literal["careful", "steady", "bold"] | None = Field(
        default=None,
        description="how much of lean and braking is used on this build, if not as much as the "
        "rider's file says; leave it out to hold skill and caution equal",
    )
    price: Annotated[float, in_range(0.0, 1e6)] | None = Field(
        default=None, description="the price of the whole bike, in any one currency"
    )
    source: str = Field(
        default="", max_length=400, description="where the figures come from, in a few words"
    )
    yaw: YawTable | None = Field(
        default=None, description="how the drag area changes in cross-wind"
    )


def along_wind_factors(
    yaw_degs: tuple[float, ...], factors: tuple[float, ...], convention: YawConvention
) -> tuple[float, ...]:
    """Factors on the drag area in the one form in which the force model takes them.

    The model's force along the road is 1/2 rho A V (V cos yaw), with V the apparent wind. A
    tunnel's axial coefficient stands on V², so it is divided by cos yaw; one that stands on the
    square of the axial wind (V cos yaw)², as in [Martin1998], is multiplied by it.

    Parameters
    ----------
    yaw_degs : tuple of float
        Angles in degrees, below 90.
    factors : tuple of float
        Factors as written.
    convention : str
        ``"along_wind"``, ``"tunnel_axial"`` or ``"road_axial"``.

    Returns
    -------
    tuple of float
        Factors on A.
    """
    power = {"along_wind": 0, "tunnel_axial": -1, "road_axial": 1}[convention]
    return tuple(
        factor * math.cos(math.radians(yaw_deg)) ** power
        for yaw_deg, factor in zip(yaw_degs, factors, strict=True)
    )


def load_build(path: Path) -> Build:
    """Read the file of a build.

    Name, mass, drag area and rolling coefficient must be in it; everything else has a default
    (``defaults.py``), and the `source` of the result names the keys that were left to it.

    Parameters
    ----------
    path : Path
        A TOML file.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.
    """
    return build_of(read_toml(path, BuildFile), fallback_source=f"file {path.name}")


def build_of(written: BuildFile, *, fallback_source: str = "") -> Build:
    """Turn checked keys into a `Build`.

    Parameters
    ----------
    written : BuildFile
        The keys.
    fallback_source : str
        Told as the source when the file names none.
    """
    yaw_degs: tuple[float, ...] = (0.0,)
    cda_factors: tuple[float, ...] = (1.0,)
    if written.yaw is not None:
        yaw_degs = written.yaw.angles_deg
        cda_factors = along_wind_factors(yaw_degs, written.yaw.factors, written.yaw.convention)
    return Build(
        name=written.name,
        mass_kg=uncertain_of(written.mass_kg),
        cda_m2=uncertain_of(written.cda_m2),
        yaw_degs=yaw_degs,
        cda_factors=cda_factors,
        wheel_drag_area_m2=uncertain_of(written.wheel_drag_area_m2),
        crr=uncertain_of(written.crr),
        wheel_inertia_kgm2=uncertain_of(written.wheel_inertia_kgm2),
        wheel_radius_m=written.wheel_circumference_m / (2.0 * math.pi),
        bearing_factor=uncertain_of(written.bearing_factor),
        drivetrain_efficiency=uncertain_of(written.drivetrain_efficiency),
        chainrings=tuple(sorted(written.chainrings)),
        sprockets=tuple(sorted(written.sprockets)),
        grip_dry=uncertain_of(written.grip_dry),
        grip_wet=uncertain_of(written.grip_wet),
        price=written.price,
        caution=written.caution,
        source=source_text(written, fallback_source),
    )
