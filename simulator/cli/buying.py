"""The job of ``buildgap spend``: read, ride, print, write."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.cli.comparing import tell_files
from simulator.errors import InputError
from simulator.measures import Measures

if TYPE_CHECKING:
    from simulator.report import SpendView
    from simulator.spend import Progress, RaceWish

FILES = ("index.html", "frontier.png", "frontier.svg", "shopping.csv", "spend.json")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the user asked for, as the options give it."""

    build_path: Path
    parts_path: Path
    target_path: Path | None
    plan_path: Path | None
    budgets: tuple[float, ...]
    course_paths: tuple[Path, ...]
    rider_path: Path | None
    weather_path: Path | None
    power_w: float | None
    pacing_path: Path | None
    laps: int | None
    tiles_path: Path | None
    n_draws: int
    seed: int
    measures: Measures
    cluster: str | None
    out_path: Path | None
    overwrite: bool
    quiet: bool
    as_json: bool


def spend(wish: Wish) -> None:
    """Find the best parts, print them and write the files.

    Raises
    ------
    InputError
        If a file or an option is wrong, or if a result would replace one that exists.
    CannotFinish
        If a rider comes to a halt on the way.
    """
    from simulator.files import write_files
    from simulator.report import make_spend_view, spend_files
    from simulator.setup import load_build, load_parts, load_rider
    from simulator.spend import DaskCluster, plan_spending, read_races

    budgets, races_wished = _plan(wish)
    _refuse_results(wish)
    build, catalogue = load_build(wish.build_path), load_parts(wish.parts_path)
    target = None if wish.target_path is None else load_build(wish.target_path)
    rider = load_rider(wish.rider_path)
    races = read_races(races_wished, rider=rider, build=build, tiles_path=wish.tiles_path)
    cluster = None if wish.cluster is None else DaskCluster(wish.cluster, races)
    try:
        with _progress(wish) as progress:
            spending = plan_spending(
                build=build,
                target=target,
                catalogue=catalogue,
                races=races,
                budgets=budgets,
                n_draws=wish.n_draws,
                seed=wish.seed,
                runner=cluster,
                progress=progress,
            )
    finally:
        if cluster is not None:
            cluster.close()
    view = make_spend_view(
        spending,
        cluster_notes=cluster.notes if cluster is not None else (),
        measures=wish.measures,
    )
    if wish.out_path is not None:
        write_files(wish.out_path, spend_files(view), overwrite=wish.overwrite)
    _print(view, wish)


def _plan(wish: Wish) -> tuple[tuple[float, ...], tuple[RaceWish, ...]]:
    from simulator.spend import RaceWish, load_plan

    if wish.plan_path is not None:
        asked = {
            "--course": wish.course_paths,
            "--laps": wish.laps,
            "--power": wish.power_w,
            "--pacing": wish.pacing_path,
            "--weather": wish.weather_path,
        }
        for option, value in asked.items():
            if value:
                raise InputError(
                    file=option,
                    found="the option stands beside `--plan`",
                    expected="one of the two; the plan names its races itself",
                )
        budgets, races = load_plan(wish.plan_path)
        return wish.budgets or budgets, races
    needed: dict[str, tuple[object, ...]] = {
        "--course": wish.course_paths,
        "--budget": wish.budgets,
    }
    for option, given in needed.items():
        if not given:
            raise InputError(
                file=option,
                found="the option was not given",
                expected="at least one, or a plan",
                mend=f"add `{option}`, or `--plan FILE` with budgets and races",
            )
    return wish.budgets, tuple(
        RaceWish(
            course=path,
            weather=wish.weather_path,
            pacing=wish.pacing_path,
            power_w=wish.power_w,
            laps=wish.laps,
        )
        for path in wish.course_paths
    )


def _refuse_results(wish: Wish) -> None:
    from simulator.files import refuse_existing

    if wish.out_path is None:
        return
    if wish.out_path.exists() and not wish.out_path.is_dir():
        raise InputError(
            file=str(wish.out_path),
            found="there is a file of this name",
            expected="a folder, or a name that is free",
            mend="choose another name for `--out`",
        )
    refuse_existing([wish.out_path / name for name in FILES], overwrite=wish.overwrite)


@contextmanager
def _progress(wish: Wish) -> Iterator[Progress | None]:
    """A bar for each step of the work where somebody looks on."""
    if wish.quiet or wish.as_json or not sys.stderr.isatty():
        yield None
        return
    bars: dict[str, Any] = {}
    done: dict[str, int] = {}

    def tell(what: str, n_done: int, n: int) -> None:
        if what not in bars:
            for bar in bars.values():
                bar.render_finish()
            bars[what] = click.progressbar(
                length=n, label=f"{what:<18}", file=sys.stderr, show_pos=True
            )
            done[what] = 0
        bars[what].update(n_done - done[what])
        done[what] = n_done

    try:
        yield tell
    finally:
        for bar in list(bars.values())[-1:]:
            bar.render_finish()


def _print(view: SpendView, wish: Wish) -> None:
    from simulator.report import spend_json, spend_text

    if wish.as_json:
        click.echo(spend_json(view), nl=False)
        return
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(spend_text(view, encoding=encoding, is_short=wish.quiet), nl=False)
    if wish.out_path is not None and not wish.quiet:
        click.echo()
        tell_files(wish.out_path)
