"""course.toml: what people may write about a course."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.course.zones import MAX_ROUGHNESS_M, SHELTERS, SURFACES, Exposure, word_advice
from simulator.files import StrictSchema, in_range, problem

# Own lane of an ordinary road: what a rider may use where traffic comes the other way (common
# practice, no source).
DEFAULT_ROAD_WIDTH_M = 3.0
# Open country: class "open", 0.03 m (Davenport and Wieringa's classes, [Wieringa1992]).
DEFAULT_ROUGHNESS_M = 0.03

PlaceKm = Annotated[float, in_range(0.0, 2000.0)]


class FixEntry(StrictSchema):
    """A bridge, tunnel or cutting: a straight grade between two places."""

    from_km: PlaceKm = Field(description="where the straight grade starts")
    to_km: PlaceKm = Field(description="where it ends")
    why: str = Field(default="", description="what is there, for example bridge")

    @model_validator(mode="after")
    def _in_order(self) -> FixEntry:
        if self.to_km <= self.from_km:
            raise problem(
                found=f"from_km = {self.from_km:g} and to_km = {self.to_km:g}",
                expected="an end behind the start",
                key="to_km",
            )
        return self


class CornerEntry(StrictSchema):
    """What the rider knows better about one corner."""

    at_km: PlaceKm = Field(description="where the corner is, within 30 m")
    radius_m: Annotated[float, in_range(2.0, 500.0)] | None = Field(
        default=None, description="radius of the line ridden"
    )
    ignore: bool = Field(default=False, description="true if this is no corner at all")
    name: str = Field(default="", description="name of the corner")


class NamedPlace(StrictSchema):
    """A name for a climb or descent, or a gate across the road."""

    at_km: PlaceKm = Field(description="where it is")
    name: str = Field(description="its name")


class RestartEntry(StrictSchema):
    """A place where the rider must stop and start again: a dead turn, a barrier."""

    at_km: PlaceKm = Field(description="where it is")
    why: str = Field(default="", description="what is there")


class CourseFile(StrictSchema):
    """A course.toml. Distances are those that `course check` shows, within the first lap."""

    name: str = Field(description="name of the course")
    track: str = Field(default="track.gpx", description="track file (GPX), in this folder")
    laps: int = Field(default=1, ge=1, le=500, description="laps of a loop")
    direction: Literal["as recorded", "reversed"] = Field(
        default="as recorded", description="which way the track is ridden"
    )
    start_km: PlaceKm = Field(default=0.0, description="start line, along the track as ridden")
    finish_km: PlaceKm | None = Field(
        default=None, description="finish line, along the track as ridden"
    )
    neutral_km: PlaceKm = Field(
        default=0.0, description="roll-out before the race starts, not counted"
    )
    start: Literal["standing", "rolling"] = Field(
        default="standing", description="how the ride starts"
    )
    heights: Literal["auto", "track", "tiles"] = Field(
        default="auto", description="where heights come from"
    )
    tiles: str | None = Field(
        default=None, description="folder with elevation tiles, in this folder or right beside it"
    )
    zones: str | None = Field(default=None, description="GeoJSON file with zones, in this folder")
    road_width_m: Annotated[
        float, in_range(1.0, 30.0, why="width that may be used for the line through corners")
    ] = Field(default=DEFAULT_ROAD_WIDTH_M, description="width of road that may be used")
    surface: str = Field(default="smooth", description="road surface")
    shelter: str | float = Field(default="open", description="shelter from wind")
    roughness_m: Annotated[
        float,
        in_range(
            1e-4,
            MAX_ROUGHNESS_M,
            why="rougher surroundings are told by shelter, not by roughness",
        ),
    ] = Field(default=DEFAULT_ROUGHNESS_M, description="roughness of the surroundings")
    fix: tuple[FixEntry, ...] = Field(default=(), description="straight grades")
    corner: tuple[CornerEntry, ...] = Field(default=(), description="corners set by hand")
    label: tuple[NamedPlace, ...] = Field(default=(), description="names of climbs and descents")
    restart: tuple[RestartEntry, ...] = Field(default=(), description="full stops on the way")
    gate: tuple[NamedPlace, ...] = Field(default=(), description="gates across the road")

    @model_validator(mode="after")
    def _words(self) -> CourseFile:
        if self.surface not in SURFACES:
            raise problem(
                found=f"found {self.surface!r}",
                expected="one of " + ", ".join(SURFACES),
                mend=word_advice(self.surface, SURFACES),
                key="surface",
            )
        is_word = isinstance(self.shelter, str)
        if (is_word and self.shelter not in SHELTERS) or (
            not is_word and not 0.0 <= float(self.shelter) <= 1.0
        ):
            raise problem(
                found=f"found {self.shelter!r}",
                expected="one of " + ", ".join(SHELTERS) + ", or a number from 0 to 1",
                mend=word_advice(self.shelter, SHELTERS),
                key="shelter",
            )
        return self

    @property
    def exposure(self) -> Exposure:
        """What holds outside all zones."""
        crr, grip = SURFACES[self.surface]
        shelter = self.shelter
        return Exposure(
            shelter=SHELTERS[shelter] if isinstance(shelter, str) else float(shelter),
            roughness_m=self.roughness_m,
            crr_factor=crr,
            grip_factor=grip,
        )


def settings_of_gpx(path: Path) -> CourseFile:
    """What is taken for a bare GPX file: one ride, as recorded, own lane, open country."""
    return CourseFile(name=path.stem, track=path.name, start="standing")
