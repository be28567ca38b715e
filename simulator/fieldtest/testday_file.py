"""The file of a test day: its keys, their limits and meanings."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.files import StrictSchema, UncertainField, in_range, problem

Kind = Literal["climb", "flat", "coast", "roll-down", "free"]

SpeedKmh = Annotated[UncertainField, in_range(0.0, 120.0, why="km/h")]


class GateEntry(StrictSchema):
    """A line across the road at a point."""

    lat_deg: Annotated[float, in_range(-90.0, 90.0)] = Field(description="latitude of its middle")
    lon_deg: Annotated[float, in_range(-180.0, 180.0)] = Field(description="longitude")
    heading_deg: Annotated[float, in_range(0.0, 360.0)] = Field(
        description="direction of travel there, clockwise from north"
    )
    width_m: Annotated[float, in_range(2.0, 200.0)] = Field(
        default=30.0, description="how wide it is, both sides together"
    )


class RoadEntry(StrictSchema):
    """A stretch of road between two gates."""

    name: str = Field(min_length=1, max_length=60, description="what runs call this road")
    course: str | None = Field(default=None, description="course folder, course.toml or track")
    from_gate: str | None = Field(default=None, description="name of the first gate")
    to_gate: str | None = Field(default=None, description="name of the last gate")
    from_km: Annotated[float, in_range(0.0, 2000.0)] | None = Field(
        default=None, description="where the stretch starts, in km along the course"
    )
    to_km: Annotated[float, in_range(0.0, 2000.0)] | None = Field(
        default=None, description="where it ends"
    )
    first_gate: GateEntry | None = Field(
        default=None, description="the first gate as a point with a heading and a width"
    )
    last_gate: GateEntry | None = Field(default=None, description="the last gate as such a point")
    length_m: Annotated[float, in_range(20.0, 100_000.0)] | None = Field(
        default=None, description="length of a road without a course file, along the surface"
    )
    grade_pct: Annotated[float, in_range(-30.0, 30.0)] = Field(
        default=0.0, description="its even grade, in percent"
    )
    heading_deg: Annotated[float, in_range(0.0, 360.0)] = Field(
        default=0.0, description="direction of travel, clockwise from north"
    )
    height_m: Annotated[float, in_range(-450.0, 6000.0)] = Field(
        default=0.0, description="height of its start above the sea"
    )
    shelter: Annotated[float, in_range(0.0, 1.0, why="share of the wind that is felt")] = Field(
        default=1.0, description="share of the open wind that is felt"
    )
    surface_factor: Annotated[float, in_range(0.5, 5.0, why="1 is smooth dry asphalt")] = Field(
        default=1.0, description="rolling resistance over that of smooth asphalt"
    )

    @model_validator(mode="after")
    def _one_kind(self) -> RoadEntry:
        if (self.course is None) == (self.length_m is None):
            raise problem(
                found="both `course` and `length_m`"
                if self.course
                else "neither course nor length",
                expected="`course` with its gates, or `length_m` with `grade_pct`",
                key="name",
            )
        for keys in (("from_gate", "from_km", "first_gate"), ("to_gate", "to_km", "last_gate")):
            told = [key for key in keys if getattr(self, key) is not None]
            if self.course is not None and len(told) != 1:
                raise problem(
                    found=" and ".join(f"`{key}`" for key in told) or "no gate",
                    expected="one of " + ", ".join(f"`{key}`" for key in keys),
                    key="course",
                )
            if self.course is None and set(told) & set(keys[:2]):
                raise problem(
                    found=f"`{told[0]}` without a course",
                    expected="`first_gate` and `last_gate` as points, or no gates",
                    key="length_m",
                )
        if self.course is None and (self.first_gate is None) != (self.last_gate is None):
            raise problem(
                found="one gate", expected="both `first_gate` and `last_gate`", key="length_m"
            )
        return self


class BuildEntry(StrictSchema):
    """A build that was ridden."""

    file: str = Field(description="file of the build (TOML)")
    swap_of: str | None = Field(
        default=None, description="name of the build it was made from by a swap"
    )
    differs_in: tuple[Literal["air", "rolling"], ...] = Field(
        default=("air", "rolling"), description="what the swap can have changed"
    )
    declared: tuple[str, ...] = Field(
        default=(), description="what else differs on purpose: tyres, pressure, clothing, position"
    )


class WindEntry(StrictSchema):
    """The wind as noted: 10 m above open ground, as forecasts give it."""

    wind_kmh: Annotated[float, in_range(0.0, 80.0)] = Field(default=0.0, description="its speed")
    wind_from_deg: Annotated[float, in_range(0.0, 360.0)] = Field(
        default=0.0, description="where it comes from"
    )
    sd_kmh: Annotated[float, in_range(0.0, 40.0)] = Field(
        default=5.0, description="doubt about each of its two components"
    )


class MeterEntry(StrictSchema):
    """How far the power meter may be off."""

    scale_sd_pct: Annotated[float, in_range(0.0, 20.0)] = Field(
        default=3.0, description="doubt about its scale, the same on all builds, in percent"
    )
    fitting_sd_pct: Annotated[float, in_range(0.0, 10.0)] = Field(
        default=1.0, description="what each fitting to a bike adds, in percent"
    )
    zero_sd_w: Annotated[float, in_range(0.0, 50.0)] = Field(
        default=2.0, description="doubt about its zero after each setting, in W"
    )


class RunEntry(StrictSchema):
    """One run."""

    build: str = Field(description="name of the build")
    kind: Kind = Field(description="climb, flat, coast, roll-down or free")
    road: str = Field(description="name of the road")
    back: bool = Field(default=False, description="true if the road was ridden the other way")
    time_s: Annotated[float, in_range(1.0, 100_000.0)] | None = Field(
        default=None, description="time between the gates, in s"
    )
    stop_m: Annotated[float, in_range(5.0, 50_000.0)] | None = Field(
        default=None, description="how far it rolled until it stood, in m from the first gate"
    )
    power_w: Annotated[float, in_range(0.0, 2000.0)] | None = Field(
        default=None, description="mean power between the gates, as the meter showed it"
    )
    start_kmh: SpeedKmh | None = Field(default=None, description="speed at the first gate")
    recording: str | None = Field(default=None, description="file of the recording")
    pass_number: Annotated[int, Field(ge=1, le=999)] = Field(
        default=1, description="which pass through the gates, counted from 1"
    )
    timing_sd_s: Annotated[float, in_range(0.001, 10.0)] | None = Field(
        default=None, description="doubt about the moment at a gate"
    )
    total_kg: Annotated[float, in_range(30.0, 260.0)] | None = Field(
        default=None, description="rider, kit and bike on the scales, in kg"
    )
    temperature_degc: Annotated[float, in_range(-30.0, 55.0)] | None = Field(
        default=None, description="air temperature"
    )
    pressure_hpa: Annotated[float, in_range(400.0, 1090.0)] | None = Field(
        default=None, description="air pressure, as the weather file means it"
    )
    humidity_pct: Annotated[float, in_range(0.0, 100.0)] | None = Field(
        default=None, description="relative humidity"
    )
    wind: str | None = Field(
        default=None, description="name of a spell of wind that several runs share"
    )
    wind_kmh: Annotated[float, in_range(0.0, 80.0)] | None = Field(
        default=None, description="wind noted at this run"
    )
    wind_from_deg: Annotated[float, in_range(0.0, 360.0)] | None = Field(
        default=None, description="where it came from"
    )
    tyres: str = Field(default="", description="tyres, as text")
    tyre_pressure_bar: tuple[Annotated[float, Field(gt=0.0, le=15.0)], ...] = Field(
        default=(), description="front and rear pressure"
    )
    clothing: str = Field(default="", description="clothing, as text")
    position: str = Field(default="", description="position held, as text")
    fitting: str = Field(default="", description="name of this fitting of the meter")
    meter_zero: str = Field(default="", description="when the meter's zero was set")
    swapped: str = Field(default="", description="what was changed before this run")
    note: str = Field(default="", max_length=400, description="anything else")

    @model_validator(mode="after")
    def _measured(self) -> RunEntry:
        given = [n for n in ("time_s", "stop_m", "recording") if getattr(self, n) is not None]
        if len(given) != 1:
            raise problem(
                found="nothing measured" if not given else " and ".join(f"`{n}`" for n in given),
                expected="one of `time_s`, `stop_m`, `recording`",
                key="kind",
            )
        unpowered = self.kind in ("coast", "roll-down")
        if self.stop_m is not None and not unpowered:
            raise problem(found="a stop on a pedalled run", expected="`time_s`", key="stop_m")
        if self.recording is None and not unpowered and self.power_w is None:
            raise problem(found="no power", expected="`power_w`", key="kind")
        if not unpowered and self.power_w == 0.0:
            raise problem(
                found="0 W on a pedalled run",
                expected="the mean power that the meter showed",
                mend="an unpowered run is of the kind `coast` or `roll-down`",
                key="power_w",
            )
        if self.kind == "free" and self.recording is None:
            raise problem(found="a free ride without recording", expected="`recording`", key="kind")
        if unpowered and self.recording is None and self.start_kmh is None:
            raise problem(
                found="no speed at the first gate",
                expected="`start_kmh`",
                mend="write `start_kmh = 0` for a start from standstill",
                key="kind",
            )
        return self


class TestDayFile(StrictSchema):
    """Keys of a test day."""

    __test__ = False  # not a test, whatever its name says

    name: str = Field(min_length=1, max_length=80, description="what to call the day")
    rider: str | None = Field(default=None, description="file of the rider")
    weather: str | None = Field(default=None, description="file of the weather")
    scatter_pct: Annotated[float, in_range(0.05, 10.0, why="percent of a run's time")] = Field(
        default=0.5, description="how much the time of a run scatters by itself, in percent"
    )
    position_factor: Annotated[float, in_range(0.5, 1.5, why="1 is hands in the drops")] | None = (
        Field(default=None, description="drag of the position held in all runs, relative")
    )
    mass_sd_kg: Annotated[float, in_range(0.0, 5.0)] = Field(
        default=0.3, description="doubt about the mass that all runs share, in kg"
    )
    rise_sd_m: Annotated[float, in_range(0.0, 20.0)] = Field(
        default=2.0, description="doubt about the rise of each piece of a free ride, in m"
    )
    meter: MeterEntry = Field(default_factory=MeterEntry, description="the power meter")
    wind: WindEntry = Field(default_factory=WindEntry, description="the wind as noted")
    build: tuple[BuildEntry, ...] = Field(min_length=1, description="builds that were ridden")
    road: tuple[RoadEntry, ...] = Field(min_length=1, description="roads between gates")
    run: tuple[RunEntry, ...] = Field(min_length=1, description="runs in the order ridden")
