"""The file of a build with what a test found, ready for `compare`."""

from __future__ import annotations

import math
import re

from simulator.errors import InputError
from simulator.fieldtest.outcome import BuildFigures, Outcome
from simulator.fieldtest.testday import TestDay
from simulator.setup import Build, Uncertain

MAX_SOURCE = 390
CDA_LIMITS_M2 = (0.1, 1.0)
CRR_LIMITS = (0.001, 0.03)
"""What a build's file may say; the same limits stand there."""

_TWO_PI = 2.0 * math.pi


def build_file_names(day: TestDay) -> tuple[str, ...]:
    """A plain name for the file of each build of a test day.

    Raises
    ------
    InputError
        If two builds would get the same one.
    """
    names = tuple(_file_name(tested.name) for tested in day.builds)
    if len(set(names)) < len(names):
        raise InputError(
            file=day.file, found="two builds of one name", expected="a name for each build"
        )
    return names


def build_texts(outcome: Outcome) -> dict[str, str]:
    """File name -> text of each build that was ridden; see `build_toml`."""
    build_file_names(outcome.day)
    return {
        _file_name(figures.tested.name): build_toml(outcome, figures) for figures in outcome.builds
    }


def _file_name(name: str) -> str:
    stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40]
    return f"{stem or 'build'}.toml"


def build_toml(outcome: Outcome, figures: BuildFigures) -> str:
    """A build's file as TOML text: CdA and Crr from the test, the rest as it was.

    Parameters
    ----------
    outcome : Outcome
        The test.
    figures : BuildFigures
        Which build.

    Returns
    -------
    str
        With standard uncertainties and where they come from.
    """
    build = figures.tested.build
    day = outcome.day
    n_runs = len({run.number for run in outcome.runs if run.build == build.name})
    source = (
        f"CdA and Crr from the field test {day.name} ({n_runs} runs, scatter "
        f"{100.0 * day.scatter:g} %); the rest: {build.source}"
    )[:MAX_SOURCE]
    lines = [
        f"# {build.name} after the field test {day.name}.",
        f"# Correlation of CdA and Crr: {figures.correlation:.2f}. Errors that all builds of the",
        "# test share (scale of the meter, mass) cancel between them; files cannot say that, so",
        "# a comparison draws each build on its own and its doubt is on the wide side.",
        *(
            f"# The runs hardly told {name}: the figure of the build's own file was kept."
            for name in figures.hardly_told
        ),
        *_clipped(figures),
        "",
        f"name = {_quoted(build.name)}",
        _line("mass_kg", build.mass_kg),
        _line("cda_m2", _written(figures, "CdA"), digits=5),
        _line("crr", _written(figures, "Crr"), digits=6),
        _line("wheel_drag_area_m2", build.wheel_drag_area_m2),
        _line("wheel_inertia_kgm2", build.wheel_inertia_kgm2),
        f"wheel_circumference_m = {_number(build.wheel_radius_m * _TWO_PI)}",
        _line("bearing_factor", build.bearing_factor),
        _line("drivetrain_efficiency", build.drivetrain_efficiency),
        f"chainrings = {list(build.chainrings)}",
        f"sprockets = {list(build.sprockets)}",
        _line("grip_dry", build.grip_dry),
        _line("grip_wet", build.grip_wet),
        *([] if build.price is None else [f"price = {_number(build.price)}"]),
        f"source = {_quoted(source)}",
        *_yaw(build),
    ]
    return "\n".join(lines) + "\n"


def _found(figures: BuildFigures, name: str) -> tuple[Uncertain, tuple[float, float]]:
    if name == "CdA":
        return figures.cda_m2, CDA_LIMITS_M2
    return figures.crr, CRR_LIMITS


def _within(quantity: Uncertain, limits: tuple[float, float]) -> Uncertain:
    low, high = limits
    return Uncertain(min(max(quantity.value, low), high), quantity.sd)


def _written(figures: BuildFigures, name: str) -> Uncertain:
    """What the file says: the runs' figure, or the build's own where the runs hardly told it."""
    if name in figures.hardly_told:
        build = figures.tested.build
        return build.cda_m2 if name == "CdA" else build.crr
    return _within(*_found(figures, name))


def _clipped(figures: BuildFigures) -> list[str]:
    lines = []
    for name in ("CdA", "Crr"):
        quantity, limits = _found(figures, name)
        if name not in figures.hardly_told and _within(quantity, limits) != quantity:
            lines.append(
                f"# The runs gave {name} {quantity.value:.4g}, which no build has; the nearest "
                "that a file may say is written."
            )
    return lines


def _yaw(build: Build) -> list[str]:
    if len(build.yaw_degs) == 1:
        return []
    return [
        "",
        "[yaw]",
        f"angles_deg = [{', '.join(_number(x) for x in build.yaw_degs)}]",
        f"factors = [{', '.join(_number(x) for x in build.cda_factors)}]",
        'convention = "along_wind"',
    ]


def _line(key: str, quantity: Uncertain, digits: int = 9) -> str:
    value = _number(round(quantity.value, digits))
    if quantity.sd == 0.0:
        return f"{key} = {value}"
    return f"{key} = {{ value = {value}, sd = {_number(round(quantity.sd, digits))} }}"


def _number(value: float) -> str:
    return f"{value:.7g}"


def _quoted(text: str) -> str:
    plain = "".join(char if char.isprintable() else " " for char in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
