"""The file of a plan of runs: builds, roads, and the kinds of run that can be ridden."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from simulator.fieldtest.testday_file import Kind, MeterEntry, RoadEntry, SpeedKmh
from simulator.files import StrictSchema, in_range, problem


class OptionEntry(StrictSchema):
    """A kind of run that can be ridden."""

    name: str = Field(min_length=1, max_length=60, description="what to call it")
    kind: Kind = Field(description="climb, flat, coast or roll-down")
    road: str = Field(description="name of the road")
    power_w: Annotated[float, in_range(20.0, 2000.0)] | None = Field(
        default=None, description="power held, as the meter shows it"
    )
    start_kmh: SpeedKmh | None = Field(default=None, description="speed at the first gate")
    out_and_back: bool = Field(
        default=False, description="true if each run is ridden both ways in the same wind"
    )
    timing_sd_s: Annotated[float, in_range(0.001, 10.0)] | None = Field(
        default=None, description="doubt about the moment at a gate"
    )


class RunPlanFile(StrictSchema):
    """Keys of a plan of runs."""

    name: str = Field(min_length=1, max_length=80, description="what to call the plan")
    first: str = Field(description="file of the first build")
    other: str = Field(description="file of the other build")
    rider: str | None = Field(default=None, description="file of the rider")
    weather: str | None = Field(default=None, description="file of the weather")
    position_factor: Annotated[float, in_range(0.5, 1.5, why="1 is hands in the drops")] | None = (
        Field(default=None, description="drag of the position held in all runs, relative")
    )
    scatter_pct: Annotated[float, in_range(0.05, 10.0, why="percent of a run's time")] = Field(
        default=0.5, description="how much the time of a run scatters by itself, in percent"
    )
    wind_sd_kmh: Annotated[float, in_range(0.0, 40.0)] = Field(
        default=5.0, description="doubt about each component of the wind from run to run, at 10 m"
    )
    mass_sd_kg: Annotated[float, in_range(0.0, 5.0)] = Field(
        default=0.3, description="doubt about the mass that all runs share, in kg"
    )
    meter: MeterEntry = Field(default_factory=MeterEntry, description="the power meter")
    most_runs: Annotated[int, Field(ge=4, le=400)] = Field(
        default=64, description="most runs of each build that are thinkable"
    )
    road: tuple[RoadEntry, ...] = Field(min_length=1, description="roads between gates")
    option: tuple[OptionEntry, ...] = Field(min_length=1, description="kinds of run to choose from")

    @model_validator(mode="after")
    def _named(self) -> RunPlanFile:
        names = [option.name for option in self.option]
        if len(set(names)) < len(names):
            raise problem(
                found="two kinds of run of one name", expected="a name for each", key="option"
            )
        return self
