"""The file of a build with what a test found, ready for `compare`."""

from __future__ import annotations

import math

from simulator.fieldtest.outcome import BuildFigures, Outcome
from simulator.setup import Build, Uncertain

MAX_SOURCE = 390
_TWO_PI = 2.0 * math.pi


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
            f"# The runs hardly told {name}: it is mostly what was assumed."
            for name in figures.hardly_told
        ),
        "",
        f"name = {_quoted(build.name)}",
        _line("mass_kg", build.mass_kg),
        _line("cda_m2", figures.cda_m2, digits=5),
        _line("crr", figures.crr, digits=6),
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
