"""The file of a pacing: its keys, their limits and meanings; file -> `Pacing`."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from simulator.files import StrictSchema, check_keys, in_range, path_inside, problem, read_toml
from simulator.pacing.rules import (
    ByGrade,
    ByWind,
    Coast,
    Constant,
    EvenReserve,
    Limits,
    OnFeature,
    Pacing,
    Replay,
    ReplayRecording,
    Rule,
    Surge,
    Target,
)
from simulator.recordings import read_recording
from simulator.units import mps_from_kmh

PERCENT = 100.0
MOST_W = 3000.0

_KEYS: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    # kind: keys of which at least one (or all, see _ALL) must stand; further keys that may stand
    "constant": (frozenset({"power_w"}), frozenset()),
    "grade": (
        frozenset({"add_w_per_pct", "less_w_per_pct"}),
        frozenset({"above_pct", "below_pct"}),
    ),
    "wind": (frozenset({"add_w_per_mps"}), frozenset()),
    "feature": (frozenset({"power_w", "add_w", "factor"}), frozenset({"feature"})),
    "surge": (frozenset({"add_w"}), frozenset({"for_s"})),
    "limits": (frozenset({"cap_w", "floor_w"}), frozenset()),
    "coast": (frozenset({"above_kmh", "below_grade_pct"}), frozenset()),
    "reserve": (frozenset({"share"}), frozenset()),
    "replay": (frozenset({"distance_km", "recording"}), frozenset({"recorded_w"})),
    "target": (frozenset({"mean_w", "fourth_power_mean_w"}), frozenset()),
}
_ONE_ONLY = frozenset({"feature", "target", "replay"})
_ALL = {"surge": "for_s", "feature": "feature"}


class RuleTable(StrictSchema):
    """One rule; `kind` decides which other keys it takes."""

    kind: Literal[
        "constant", "grade", "wind", "feature", "surge", "limits", "coast", "reserve", "replay",
        "target",
    ] = Field(description="what the rule does")  # fmt: skip
    power_w: Annotated[float, in_range(0.0, MOST_W)] | None = Field(
        default=None, description="power in W (constant, feature)"
    )
    add_w_per_pct: Annotated[float, in_range(-200.0, 200.0)] | None = Field(
        default=None, description="W more for each percent of grade above `above_pct` (grade)"
    )
    above_pct: Annotated[float, in_range(-30.0, 30.0)] | None = Field(
        default=None, description="grade in percent from which it counts, 0 by default (grade)"
    )
    less_w_per_pct: Annotated[float, in_range(-200.0, 200.0)] | None = Field(
        default=None, description="W less for each percent of grade below `below_pct` (grade)"
    )
    below_pct: Annotated[float, in_range(-30.0, 30.0)] | None = Field(
        default=None, description="grade in percent below which it counts, 0 by default (grade)"
    )
    add_w_per_mps: Annotated[float, in_range(-100.0, 100.0)] | None = Field(
        default=None, description="W more for each m/s of forecast head wind (wind)"
    )
    feature: str | None = Field(
        default=None, description="climb, descent, flat, or the name of one (feature)"
    )
    add_w: Annotated[float, in_range(-MOST_W, MOST_W)] | None = Field(
        default=None, description="W more (feature, surge)"
    )
    factor: Annotated[float, in_range(0.0, 5.0)] | None = Field(
        default=None, description="times as much (feature)"
    )
    for_s: Annotated[float, in_range(0.0, 120.0)] | None = Field(
        default=None, description="for how many seconds behind each corner (surge)"
    )
    cap_w: Annotated[float, in_range(0.0, MOST_W)] | None = Field(
        default=None, description="never more than this (limits)"
    )
    floor_w: Annotated[float, in_range(0.0, MOST_W)] | None = Field(
        default=None, description="never less than this where pedalling (limits)"
    )
    above_kmh: Annotated[float, in_range(10.0, 150.0)] | None = Field(
        default=None, description="stop pedalling above this speed (coast)"
    )
    below_grade_pct: Annotated[float, in_range(-50.0, 0.0)] | None = Field(
        default=None, description="stop pedalling on grades below this, negative (coast)"
    )
    share: Annotated[float, in_range(0.0, 1.0)] | None = Field(
        default=None, description="share of W′ to spread over the climbs, 0 to 1 (reserve)"
    )
    distance_km: tuple[float, ...] | None = Field(
        default=None, description="distances along the course, ascending (replay)"
    )
    recorded_w: tuple[float, ...] | None = Field(
        default=None, description="power at each of those distances (replay)"
    )
    recording: str | None = Field(
        default=None,
        min_length=1,
        description="file of a recorded ride over this course (FIT, TCX, GPX or CSV), beside this "
        "file (replay)",
    )
    mean_w: Annotated[float, in_range(1.0, MOST_W)] | None = Field(
        default=None, description="mean power that the ride shall come out at (target)"
    )
    fourth_power_mean_w: Annotated[float, in_range(1.0, MOST_W)] | None = Field(
        default=None,
        description="fourth root of the mean fourth power, unsmoothed, to come out at (target)",
    )

    @model_validator(mode="after")
    def _agreed(self) -> RuleTable:
        given = self.model_fields_set - {"kind"}
        needed, further = _KEYS[self.kind]
        for key in sorted(given - needed - further):
            raise problem(
                key=key,
                found=f"a rule of kind `{self.kind}` does not take it",
                expected=", ".join(f"`{k}`" for k in sorted(needed | further)),
            )
        found = sorted(given & needed)
        if not found:
            raise problem(
                key="kind",
                found=f"a rule of kind `{self.kind}` without its figure",
                expected=" or ".join(f"`{k}`" for k in sorted(needed)),
            )
        if self.kind in _ONE_ONLY and len(found) > 1:
            raise problem(
                key=found[1],
                found=f"`{found[0]}` stands there too",
                expected=f"one of {', '.join(f'`{k}`' for k in sorted(needed))}",
            )
        missing = _ALL.get(self.kind)
        if missing is not None and missing not in given:
            raise problem(key="kind", found=f"a rule of kind `{self.kind}` without `{missing}`")
        if self.kind == "replay":
            self._check_replay()
        if self.cap_w is not None and self.floor_w is not None and self.floor_w > self.cap_w:
            raise problem(
                key="floor_w",
                found=f"found {self.floor_w:g}",
                expected=f"no more than `cap_w` ({self.cap_w:g})",
            )
        return self

    def _check_replay(self) -> None:
        if self.recording is not None:
            if self.recorded_w is not None:
                raise problem(
                    key="recorded_w",
                    found="`recording` stands there too",
                    expected="one of them: the recording has its own power",
                )
            return
        if self.recorded_w is None:
            raise problem(key="kind", found="a rule of kind `replay` without `recorded_w`")
        distances, powers = self.distance_km or (), self.recorded_w or ()
        if len(distances) != len(powers) or len(distances) < 2:
            raise problem(
                key="recorded_w",
                found=f"{len(powers)} powers for {len(distances)} distances",
                expected="as many as `distance_km` has, at least two",
            )
        if any(b <= a for a, b in pairwise(distances)):
            raise problem(
                key="distance_km", found="distances that do not rise", expected="ascending ones"
            )
        if any(not 0.0 <= power <= MOST_W for power in powers):
            raise problem(
                key="recorded_w",
                found="a power out of range",
                expected=f"0 to {MOST_W:g} W each",
            )


class PacingFile(StrictSchema):
    """Keys of a pacing file: rules, applied in order to the rider's constant power."""

    name: str = Field(min_length=1, max_length=60, description="what to call the plan")
    rule: tuple[RuleTable, ...] = Field(
        min_length=1, max_length=50, description="one [[rule]] table for each rule"
    )


def load_pacing(path: Path) -> Pacing:
    """Read a pacing file.

    Parameters
    ----------
    path : Path
        TOML with ``name`` and ``[[rule]]`` tables, see configs/pacing.toml.

    Returns
    -------
    Pacing
        Rules in SI units, in the order of the file.

    Raises
    ------
    InputError
        If the file cannot be read or a key is wrong; the message names the line.
    """
    written = read_toml(path, PacingFile)
    rules = tuple(_rule(table, path) for table in written.rule)
    return Pacing(name=written.name, rules=rules, source=str(path))


def pacing_from_keys(keys: Mapping[str, object]) -> Pacing:
    """A pacing from the keys of its file, ``rule`` a list of tables; see `load_pacing`."""
    written = check_keys(keys, PacingFile, file="pacing")
    rules = tuple(_rule(table, Path()) for table in written.rule)
    return Pacing(name=written.name, rules=rules, source="given in Python")


def _rule(table: RuleTable, path: Path) -> Rule:
    match table.kind:
        case "constant":
            return Constant(power_w=table.power_w or 0.0)
        case "grade":
            return ByGrade(
                above_grade=(table.above_pct or 0.0) / PERCENT,
                per_grade_above_w=(table.add_w_per_pct or 0.0) * PERCENT,
                below_grade=(table.below_pct or 0.0) / PERCENT,
                per_grade_below_w=(table.less_w_per_pct or 0.0) * PERCENT,
            )
        case "wind":
            return ByWind(per_mps_w=table.add_w_per_mps or 0.0)
        case "feature":
            return OnFeature(
                feature=table.feature or "",
                power_w=table.power_w,
                add_w=table.add_w,
                factor=table.factor,
            )
        case "surge":
            return Surge(add_w=table.add_w or 0.0, for_s=table.for_s or 0.0)
        case "limits":
            return Limits(
                floor_w=table.floor_w or 0.0,
                cap_w=MOST_W if table.cap_w is None else table.cap_w,
            )
        case "coast":
            return Coast(
                above_mps=None if table.above_kmh is None else mps_from_kmh(table.above_kmh),
                below_grade=(
                    None if table.below_grade_pct is None else table.below_grade_pct / PERCENT
                ),
            )
        case "reserve":
            return EvenReserve(share=table.share or 0.0)
        case "replay" if table.recording is not None:
            ride = path_inside(path.parent, table.recording, file=str(path), key="recording")
            return ReplayRecording(recording=read_recording(ride))
        case "replay":
            return Replay(
                distances_m=np.array(table.distance_km) * 1000.0,
                powers_w=np.array(table.recorded_w),
                label="recorded power",
            )
        case "target":
            return Target(mean_w=table.mean_w, fourth_power_mean_w=table.fourth_power_mean_w)
