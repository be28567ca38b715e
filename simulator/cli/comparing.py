"""What `compare` and `demo` share: ride, print, write."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from simulator.errors import InputError
from simulator.measures import METRIC, Measures

if TYPE_CHECKING:
    from simulator.compare import Comparison, Review
    from simulator.recordings import Recording
    from simulator.report import ReviewView
    from simulator.setup import Build

PICTURES = ("gap", "plan", "causes")
FILES = (
    "index.html",
    *(f"{name}.{kind}" for name in PICTURES for kind in ("png", "svg")),
    "gap.csv",
    "comparison.json",
)
"""What is written for each pair of builds."""

LINEUP_FILES = ("index.html", "lineup.png", "lineup.svg", "lineup.json")
"""What is written besides where there are more than two builds."""


REVIEW_FILES = ("index.html", "review.png", "review.svg", "review.csv", "review.json")
"""What is written for a recorded ride; beside a comparison, in the folder ``review``."""

RACES_FILES = ("index.html", "races.png", "races.svg", "races.csv", "races.json")
"""What is written where there are several courses or weathers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the user asked for, but for the files to read."""

    power_w: float | None = None
    n_draws: int = 2000
    seed: int = 1
    measures: Measures = METRIC
    out_path: Path | None = None
    overwrite: bool = False
    quiet: bool = False
    as_json: bool = False


def compare(
    *,
    course_paths: Sequence[Path],
    build_paths: Sequence[Path],
    rider_path: Path | None,
    weather_paths: Sequence[Path] = (),
    pacing_path: Path | None = None,
    recorded_path: Path | None = None,
    laps: int | None,
    tiles_path: Path | None,
    wish: Wish,
) -> None:
    """Ride all builds over a course, print the comparison and write its files.

    Several courses or weathers give a table of all builds in all of them; a recorded ride is laid
    beside the predicted one of the first build.

    Raises
    ------
    InputError
        If a file is wrong, or if a result would replace one that exists.
    CannotFinish
        If a rider comes to a halt on the way.
    """
    from simulator.course import build_course
    from simulator.pacing import load_pacing, wanted_demand
    from simulator.setup import RideSetup, load_rider, load_weather, with_gusts

    is_many = len(course_paths) > 1 or len(weather_paths) > 1
    is_review = recorded_path is not None and len(build_paths) == 1
    _refuse_together(
        wish,
        is_many=is_many,
        recorded_path=recorded_path,
        pacing_path=pacing_path,
        is_review=is_review,
    )
    builds = load_builds(build_paths, least=1 if is_review else 2)
    rider = load_rider(rider_path)
    weathers = [load_weather(path) for path in weather_paths or (None,)]
    pacing = None if pacing_path is None else load_pacing(pacing_path)
    refuse_results(builds, wish, is_many=is_many, is_recorded=recorded_path is not None)
    recording = None if recorded_path is None else _read_recording(recorded_path)
    if is_many:
        from simulator.cli.racing import race

        race(
            course_paths=course_paths,
            weathers=weathers,
            builds=builds,
            rider=rider,
            pacing=pacing,
            laps=laps,
            tiles_path=tiles_path,
            wish=wish,
        )
        return
    n_others = len(builds) - 1
    reviewed = None
    comparisons: Sequence[Comparison] = ()
    with progress(1 + (recording is not None) + 2 * n_others, wish) as step:
        course = build_course(course_paths[0], n_laps=laps, tiles_folder=tiles_path)
        weather = with_gusts(weathers[0], distance_m=course.distance_m)
        first, *others = (RideSetup(rider=rider, build=build, weather=weather) for build in builds)
        step()
        if recording is not None:
            from simulator.compare import review

            reviewed = review(course=course, setup=first, recording=recording)
            step()
        if others:
            from simulator.compare import explain_many

            comparisons = explain_many(
                course=course,
                first=first,
                others=others,
                n_draws=wish.n_draws,
                seed=wish.seed,
                demand=wanted_demand(
                    course, rider=rider, weather=weather, pacing=pacing, power_w=wish.power_w
                ),
                when_done=step,
            )
    if reviewed is not None and not comparisons:
        show_review(reviewed, wish)
    elif len(comparisons) == 1:
        show_pair(comparisons[0], wish, reviewed)
    else:
        show_lineup(comparisons, wish, reviewed)


def _refuse_together(
    wish: Wish,
    *,
    is_many: bool,
    is_review: bool,
    recorded_path: Path | None,
    pacing_path: Path | None,
) -> None:
    """Complain about what makes no sense together."""
    if recorded_path is not None and is_many:
        raise InputError(
            file="--recorded",
            found="several courses or weathers were given too",
            expected="the one course and weather of the recorded ride",
            mend="give one `--course` and one `--weather`",
        )
    if is_review and (wish.power_w is not None or pacing_path is not None):
        raise InputError(
            file="--recorded",
            found="`--power` or `--pacing` was given too",
            expected="nothing of the kind: the recorded power is ridden",
            mend="leave it out, or name a second build to compare",
        )


def _read_recording(path: Path) -> Recording:
    from simulator.recordings import read_recording

    return read_recording(path)


@contextmanager
def progress(n_steps: int, wish: Wish) -> Iterator[Callable[[], None]]:
    """A bar in a terminal, nothing elsewhere; what it yields is called after each step."""
    if wish.quiet or wish.as_json or not sys.stderr.isatty():
        yield lambda: None
        return
    with click.progressbar(length=n_steps, label="Riding", file=sys.stderr, show_pos=True) as bar:
        yield lambda: bar.update(1)


def refuse_results(
    builds: Sequence[Build], wish: Wish, *, is_many: bool = False, is_recorded: bool = False
) -> None:
    """Complain before the rides, not after them, about results that stand in the way."""
    from simulator.files import refuse_existing
    from simulator.report import folder_names

    if wish.out_path is None:
        return
    if wish.out_path.exists() and not wish.out_path.is_dir():
        raise InputError(
            file=str(wish.out_path),
            found="there is a file of this name",
            expected="a folder, or a name that is free",
            mend="choose another name for `--out`",
        )
    names = list(FILES)
    if is_many:
        names = list(RACES_FILES)
    elif len(builds) == 1:
        names, is_recorded = list(REVIEW_FILES), False
    elif len(builds) > 2:
        folders = folder_names([build.name for build in builds[1:]])
        names = [*LINEUP_FILES, *(f"{folder}/{name}" for folder in folders for name in FILES)]
    if is_recorded:
        names += [f"review/{name}" for name in REVIEW_FILES]
    refuse_existing([wish.out_path / name for name in names], overwrite=wish.overwrite)


def load_builds(paths: Sequence[Path], *, least: int = 2) -> list[Build]:
    """Read the builds; those of the same name get the name of their file as well."""
    from simulator.setup import load_build, numbered_apart

    if len(paths) < least:
        raise InputError(
            file="--build",
            found=f"{len(paths)} build was given",
            expected="two or more",
            mend="repeat `--build FILE`; the others are compared with the first one",
        )
    builds = [load_build(path) for path in paths]
    names = [build.name for build in builds]
    named = [
        replace(build, name=f"{build.name} ({path.stem})") if names.count(build.name) > 1 else build
        for build, path in zip(builds, paths, strict=True)
    ]
    return numbered_apart(named)


def show_pair(comparison: Comparison, wish: Wish, reviewed: Review | None = None) -> None:
    """Print one comparison of two builds and write its files."""
    from simulator.report import comparison_json, gap_text, make_gap_view, sentence_text

    view = make_gap_view(comparison, wish.measures)
    review = _review_view(reviewed, wish)
    if wish.out_path is not None:
        # The pictures load matplotlib: only where there are any.
        from simulator.report import comparison_files

        _write(comparison_files(comparison, wish.measures, review=review), wish, reviewed)
    if wish.as_json:
        click.echo(comparison_json(view, review=review), nl=False)
        return
    show = sentence_text if wish.quiet else gap_text
    _tell(show(view, encoding=encoding_of_stdout()), wish, review)


def show_lineup(
    comparisons: Sequence[Comparison], wish: Wish, reviewed: Review | None = None
) -> None:
    """Print many builds against the first one and write all files, a folder a build."""
    from simulator.report import folder_names, lineup_json, lineup_text, make_lineup_view

    folders = folder_names([c.gap.other.setup.build.name for c in comparisons])
    view = make_lineup_view(comparisons, folders=folders, measures=wish.measures)
    review = _review_view(reviewed, wish)
    if wish.out_path is not None:
        from simulator.report import lineup_files

        _write(lineup_files(view, comparisons, folders, review=review), wish, reviewed)
    if wish.as_json:
        click.echo(lineup_json(view, review=review), nl=False)
        return
    _tell(lineup_text(view, encoding=encoding_of_stdout(), is_short=wish.quiet), wish, review)


def show_review(reviewed: Review, wish: Wish) -> None:
    """Print a recorded ride beside the predicted one and write its files."""
    from simulator.files import write_files
    from simulator.report import make_review_view, review_json, review_text, short_review_text

    view = make_review_view(reviewed, wish.measures)
    if wish.out_path is not None:
        from simulator.report import review_files

        write_files(wish.out_path, review_files(reviewed, wish.measures), overwrite=wish.overwrite)
    if wish.as_json:
        click.echo(review_json(view), nl=False)
        return
    show = short_review_text if wish.quiet else review_text
    _tell(show(view, encoding=encoding_of_stdout()), wish, None)


def _review_view(reviewed: Review | None, wish: Wish) -> ReviewView | None:
    from simulator.report import make_review_view

    return None if reviewed is None else make_review_view(reviewed, wish.measures)


def _write(files: Mapping[str, bytes], wish: Wish, reviewed: Review | None) -> None:
    """Write a result, and the review beside it in a folder of its own."""
    from simulator.files import write_files

    if wish.out_path is None:
        return
    write_files(wish.out_path, files, overwrite=wish.overwrite)
    if reviewed is not None:
        from simulator.report import review_files

        folder = wish.out_path / "review"
        write_files(folder, review_files(reviewed, wish.measures), overwrite=wish.overwrite)


def _tell(text: str, wish: Wish, review: ReviewView | None) -> None:
    """Print a result, what a recorded ride says to it, and where the files are."""
    from simulator.report import short_review_text, trust_text

    click.echo(text, nl=False)
    if review is not None:
        show = short_review_text if wish.quiet else trust_text
        click.echo(show(review, encoding=encoding_of_stdout()), nl=False)
    if wish.out_path is not None and not wish.quiet:
        click.echo()
        tell_files(wish.out_path)


def tell_files(folder: Path) -> None:
    """Say where the results are, the page first."""
    from simulator.report import plain

    click.echo(plain(f"Page: {folder / 'index.html'}", encoding_of_stdout()))
    click.echo(plain(f"Pictures, CSV and JSON: {folder}", encoding_of_stdout()))


def encoding_of_stdout() -> str:
    """What letters can be printed."""
    return getattr(sys.stdout, "encoding", None) or "utf-8"
