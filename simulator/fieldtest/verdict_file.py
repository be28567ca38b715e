"""The file of a verdict: two builds, and the times observed on some stretches of road."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from simulator.fieldtest.testday_file import RoadEntry
from simulator.files import StrictSchema, in_range, problem

Times = Annotated[tuple[float, ...], in_range(1.0, 100_000.0, why="seconds")]


class ClimbEntry(RoadEntry):
    """A stretch of road with the times of both builds."""

    power_w: Annotated[float, in_range(20.0, 2000.0)] = Field(
        description="power held on both builds, as the meter showed it"
    )
    other_power_w: Annotated[float, in_range(20.0, 2000.0)] | None = Field(
        default=None, description="power held on the other build, if it differs"
    )
    first_times_s: Times = Field(min_length=1, description="times of the first build, in s")
    other_times_s: Times = Field(min_length=1, description="times of the other build, in s")


class BelievableEntry(StrictSchema):
    """How large an error may well be: its standard deviation between the two builds' runs."""

    mass_kg: Annotated[float, in_range(0.001, 20.0)] = Field(
        default=0.4, description="mass of rider and kit that nobody noticed"
    )
    cda_m2: Annotated[float, in_range(1e-5, 0.2)] = Field(
        default=0.008, description="drag area: position and clothing from run to run"
    )
    crr: Annotated[float, in_range(1e-6, 0.01)] = Field(
        default=0.0004, description="rolling: tyre pressure and temperature"
    )
    power_pct: Annotated[float, in_range(0.01, 20.0)] = Field(
        default=1.5, description="the meter between two fittings, in percent"
    )
    wind_kmh: Annotated[float, in_range(0.01, 40.0)] = Field(
        default=4.0, description="wind along the road between two runs, at 10 m"
    )


class VerdictFile(StrictSchema):
    """Keys of a verdict's file."""

    name: str = Field(min_length=1, max_length=80, description="what to call the test")
    first: str = Field(description="file of the first build")
    other: str = Field(description="file of the other build")
    rider: str | None = Field(default=None, description="file of the rider")
    weather: str | None = Field(default=None, description="file of the weather")
    position_factor: Annotated[float, in_range(0.5, 1.5, why="1 is hands in the drops")] | None = (
        Field(default=None, description="drag of the position held in all runs, relative")
    )
    scatter_pct: Annotated[float, in_range(0.05, 10.0, why="percent of a run's time")] = Field(
        default=0.6, description="how much the time of a run scatters by itself, in percent"
    )
    believable: BelievableEntry = Field(
        default_factory=BelievableEntry, description="how large an error may well be"
    )
    climb: tuple[ClimbEntry, ...] = Field(min_length=1, description="stretches with their times")

    @model_validator(mode="after")
    def _named(self) -> VerdictFile:
        names = [climb.name for climb in self.climb]
        if len(set(names)) < len(names):
            raise problem(
                found="two stretches of one name", expected="a name for each", key="climb"
            )
        return self
