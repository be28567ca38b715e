"""How a bunch rides: the keys of its file, their limits and meanings; file -> `BunchRules`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.files import StrictSchema, check_keys, in_range, problem, read_toml


@dataclass(frozen=True, slots=True, kw_only=True)
class BunchRules:
    """One's place in a bunch and how it rides.

    ``place`` counts from the front, 1 is the wind. ``shelter`` names a published table, unless
    ``places`` and ``factors`` give one. ``turn_s`` seconds at the front come every
    ``turn_every_s`` seconds; 0 for no turns. ``form_sd`` is the standard deviation of critical
    power from day to day, as a share of it. ``recorded_place`` is the place at which a recorded
    pace was ridden; None for one's own.
    """

    name: str
    place: float
    shelter: str
    places: tuple[float, ...] | None
    factors: tuple[float, ...] | None
    spacing_m: float
    close_s: float
    lost_m: float
    turn_s: float
    turn_every_s: float
    form_sd: float
    break_laps: tuple[int, ...]
    sprint_m: float
    recorded_place: float | None = None


class BunchFile(StrictSchema):
    """Keys of the file of a bunch. Everything has a default."""

    name: str = Field(
        default="Club bunch", min_length=1, max_length=60, description="what to call the bunch"
    )
    place: Annotated[float, in_range(1.0, 200.0, why="1 is the front")] = Field(
        default=8.0, description="your place in the bunch, counted from the front"
    )
    shelter: Literal["line", "pack"] = Field(
        default="line", description="published table of shelter: one line, or a wide pack"
    )
    places: tuple[float, ...] | None = Field(
        default=None, description="places of a table of your own, ascending from 1"
    )
    factors: Annotated[tuple[float, ...], in_range(0.03, 1.2)] | None = Field(
        default=None, description="drag at each of these places over that of riding alone"
    )
    spacing_m: Annotated[float, in_range(1.5, 10.0, why="wheel to wheel, a bike is 1.7 m")] = Field(
        default=2.2, description="distance from one rider to the next in m, closed up"
    )
    close_s: Annotated[float, in_range(2.0, 60.0)] = Field(
        default=10.0, description="seconds in which the gap out of a corner is closed"
    )
    lost_m: Annotated[float, in_range(1.0, 100.0)] = Field(
        default=10.0, description="metres behind at which contact is lost"
    )
    turn_s: Annotated[float, in_range(0.0, 3600.0)] = Field(
        default=0.0, description="seconds of each turn at the front; 0 for none"
    )
    turn_every_s: Annotated[float, in_range(1.0, 36000.0)] = Field(
        default=300.0, description="seconds from one turn's start to the next"
    )
    form_sd_pct: Annotated[float, in_range(0.0, 20.0, why="percent")] = Field(
        default=2.5,
        description="how much critical power changes from day to day, in percent; what the "
        "rider's file says about its own doubt comes on top",
    )
    break_laps: tuple[Annotated[int, Field(ge=1, le=200)], ...] = Field(
        default=(1, 2, 3), description="laps before the finish at which a solo break is tried"
    )
    sprint_m: Annotated[float, in_range(50.0, 1000.0)] = Field(
        default=200.0, description="length of the final sprint in m"
    )
    recorded_place: Annotated[float, in_range(1.0, 200.0, why="1 is the front")] | None = Field(
        default=None,
        description="place at which a race given with --recorded was recorded; your own by default",
    )

    @model_validator(mode="after")
    def _agreed(self) -> BunchFile:
        if (self.places is None) != (self.factors is None):
            there = "places" if self.factors is None else "factors"
            raise problem(key=there, found="the other one is missing", expected="both or neither")
        if self.places is not None and self.factors is not None:
            if len(self.places) != len(self.factors) or len(self.places) < 2:
                raise problem(
                    key="factors",
                    found=f"{len(self.factors)} factors for {len(self.places)} places",
                    expected="as many as `places` has, at least two",
                )
            if any(b <= a for a, b in pairwise(self.places)) or self.places[0] != 1.0:
                raise problem(
                    key="places",
                    found="places that do not rise from 1",
                    expected="ascending ones, the first is 1",
                )
            if any(b > a for a, b in pairwise(self.factors)):
                raise problem(
                    key="factors",
                    found="less shelter further back",
                    expected="factors that fall, or stay, from the front to the back",
                )
        if self.turn_s >= self.turn_every_s:
            raise problem(
                key="turn_s",
                found=f"found {self.turn_s:g}",
                expected=f"less than `turn_every_s` ({self.turn_every_s:g})",
            )
        return self


def load_bunch(path: Path | None, *, place: float | None = None) -> BunchRules:
    """Read the file of a bunch; without a file, the default one.

    Parameters
    ----------
    path : Path or None
        TOML, see configs/bunch.toml.
    place : float, optional
        Instead of the file's place.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.
    """
    written = BunchFile() if path is None else read_toml(path, BunchFile)
    return rules_of(written if place is None else written.model_copy(update={"place": place}))


def bunch_from_keys(keys: Mapping[str, object]) -> BunchRules:
    """A bunch from the keys of its file; see `load_bunch`."""
    return rules_of(check_keys(keys, BunchFile, file="bunch"))


def rules_of(written: BunchFile) -> BunchRules:
    """Turn checked keys into `BunchRules`."""
    return BunchRules(
        name=written.name,
        place=written.place,
        shelter=written.shelter,
        places=written.places,
        factors=written.factors,
        spacing_m=written.spacing_m,
        close_s=written.close_s,
        lost_m=written.lost_m,
        turn_s=written.turn_s,
        turn_every_s=written.turn_every_s,
        form_sd=written.form_sd_pct / 100.0,
        break_laps=written.break_laps,
        sprint_m=written.sprint_m,
        recorded_place=written.recorded_place,
    )
