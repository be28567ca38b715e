"""Options that several commands take, each told once."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from simulator.measures import Measures

CommandFunction = TypeVar("CommandFunction", bound=Callable[..., Any])


class _NamedPath(click.Path):
    """A path that is not empty: "" would mean the folder that one is in."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Take the name or complain."""
        if value == "":
            self.fail("an empty name; is a variable of the shell without a value?", param, ctx)
        return super().convert(value, param, ctx)


ANY_PATH = _NamedPath(path_type=Path)
"""A path as written; whether it is there is told by the room that reads it."""

MIN_POWER_W = 20.0
MAX_POWER_W = 1000.0
MAX_LAPS = 200

UNITS = ("metric", "imperial")
"""What ``--units`` takes, the default first."""

MEASURES_KEY = "buildgap.measures"
"""Where a call of the program keeps the units that its answer is told in, for ``main.py``."""


def say(text: str, *, err: bool = False) -> None:
    """Print lines; a letter that would steer the terminal, as in a file's name, becomes "?"."""
    for line in text.splitlines():
        click.echo("".join(char if char.isprintable() else "?" for char in line), err=err)


def _limits(limits: click.FloatRange | click.IntRange) -> str:
    return f"{limits.min:,.10g} to {limits.max:,.10g}"


class Whole(click.IntRange):
    """A whole number from one limit to another."""

    def _describe_range(self) -> str:
        return _limits(self)


class Finite(click.FloatRange):
    """A number from one limit to another; "nan" is not one."""

    def _describe_range(self) -> str:
        return _limits(self)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Read the number or complain."""
        number = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(f"{value!r} is not a number that can be used.", param, ctx)
        return float(number)


def course_option(*, required: bool = True) -> Callable[[CommandFunction], CommandFunction]:
    """``--course``, given to the command as `course_path`."""
    return click.option(
        "--course",
        "course_path",
        type=ANY_PATH,
        required=required,
        metavar="FILE|FOLDER",
        help="Track (GPX), course.toml, or the folder it stands in.",
    )


def build_option(function: CommandFunction) -> CommandFunction:
    """``--build``, as often as wanted, given to the command as the tuple `build_paths`."""
    return _builds(function, "File of a build (TOML); repeat it for each build.")


def one_build_option(function: CommandFunction) -> CommandFunction:
    """``--build`` of a command that takes one, and tells it who gives more."""
    return _builds(function, "File of the build (TOML).")


def _builds(function: CommandFunction, told: str) -> CommandFunction:
    return click.option(
        "--build",
        "build_paths",
        type=ANY_PATH,
        multiple=True,
        required=True,
        metavar="FILE",
        help=told,
    )(function)


def rider_option(function: CommandFunction) -> CommandFunction:
    """``--rider``, given to the command as `rider_path`, None for the default rider."""
    return click.option(
        "--rider",
        "rider_path",
        type=ANY_PATH,
        metavar="FILE",
        help="File of the rider (TOML); without it a stated default rider.",
    )(function)


def weather_option(function: CommandFunction) -> CommandFunction:
    """``--weather``, given to the command as `weather_path`, None for the default day."""
    return click.option(
        "--weather",
        "weather_path",
        type=ANY_PATH,
        metavar="FILE",
        help="File of the weather (TOML); without it a calm standard day.",
    )(function)


def laps_option(function: CommandFunction) -> CommandFunction:
    """``--laps``, given to the command as `laps`, None for what the course says."""
    return click.option(
        "--laps",
        type=Whole(1, MAX_LAPS),
        metavar="N",
        help="Laps of a closed course, instead of what its file says.",
    )(function)


def power_option(function: CommandFunction) -> CommandFunction:
    """``--power``, given to the command as `power_w`, None for what the rider's file says."""
    return click.option(
        "--power",
        "power_w",
        type=Finite(MIN_POWER_W, MAX_POWER_W),
        metavar="W",
        help="Steady power in watts, instead of the rider's.",
    )(function)


def pacing_option(function: CommandFunction) -> CommandFunction:
    """``--pacing``, given to the command as `pacing_path`, None for constant power."""
    return click.option(
        "--pacing",
        "pacing_path",
        type=ANY_PATH,
        metavar="FILE",
        help="File of a pacing (TOML): rules for the power; without it constant power.",
    )(function)


def seed_option(function: CommandFunction) -> CommandFunction:
    """``--seed``, given to the command as `seed`."""
    return click.option(
        "--seed",
        type=Whole(0, 2**32 - 1),
        default=1,
        show_default=True,
        metavar="N",
        help="Start of the draws: same seed, same answer.",
    )(function)


def tiles_option(function: CommandFunction) -> CommandFunction:
    """``--tiles``, given to the command as `tiles_path`, None for none."""
    return click.option(
        "--tiles",
        "tiles_path",
        type=ANY_PATH,
        metavar="FOLDER",
        help="Folder with elevation tiles (HGT), for tracks without heights.",
    )(function)


def out_option(
    default: str | None = None,
) -> Callable[[CommandFunction], CommandFunction]:
    """``--out``, given to the command as `out_path`, None for no files."""
    return click.option(
        "--out",
        "out_path",
        type=ANY_PATH,
        default=default,
        show_default=default is not None,
        metavar="FOLDER",
        help="Folder for the picture, page, CSV and JSON.",
    )


def overwrite_option(function: CommandFunction) -> CommandFunction:
    """``--overwrite``, given to the command as `overwrite`."""
    return click.option("--overwrite", is_flag=True, help="Replace files that exist already.")(
        function
    )


def units_option(function: CommandFunction) -> CommandFunction:
    """``--units``, given to the command as `measures`; errors are worded in them as well."""
    return click.option(
        "--units",
        "measures",
        type=click.Choice(UNITS),
        default=UNITS[0],
        show_default=True,
        callback=_measures,
        help="What is shown: km, m, km/h, kg, °C; or miles, feet, mph, pounds, °F. Files of yours, "
        "CSV and JSON stay metric.",
    )(function)


def _measures(ctx: click.Context, _: click.Parameter, name: str) -> Measures:
    from simulator.measures import BY_NAME

    ctx.meta[MEASURES_KEY] = BY_NAME[name]
    return BY_NAME[name]


def quiet_option(function: CommandFunction) -> CommandFunction:
    """``--quiet``, given to the command as `quiet`."""
    return click.option(
        "-q", "--quiet", is_flag=True, help="Print the answer alone, without tables and notes."
    )(function)


def json_option(function: CommandFunction) -> CommandFunction:
    """``--json``, given to the command as `as_json`."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print the result as JSON instead of a table."
    )(function)
