"""What the three commands of ``fieldtest`` share: work out, print, write."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from simulator.cli.shared import say

if TYPE_CHECKING:
    from simulator.measures import Measures
    from simulator.report import AnswerView

FILES = ("index.html", "fieldtest.png", "fieldtest.svg", "fieldtest.json")
"""What is written besides the builds of `infer`."""


class Shown(NamedTuple):
    """Where the answer goes, and in which units it is told."""

    measures: Measures
    out_path: Path | None
    overwrite: bool
    quiet: bool
    as_json: bool


def infer(path: Path, shown: Shown) -> None:
    """Fit a test day; with a folder, write each build as well."""
    from simulator.fieldtest import build_file_names, build_texts, infer_day, load_testday
    from simulator.report import make_outcome_view

    day = load_testday(path)
    _refuse(shown, (*FILES, *build_file_names(day)))
    outcome = infer_day(day)
    _show(make_outcome_view(outcome, shown.measures), shown, build_texts(outcome))


def verdict(path: Path, shown: Shown) -> None:
    """Judge observed times."""
    from simulator.fieldtest import judge_file
    from simulator.report import make_verdict_view

    _refuse(shown, FILES)
    _show(make_verdict_view(judge_file(path), shown.measures), shown, {})


def runs(path: Path, shown: Shown) -> None:
    """Plan runs."""
    from simulator.fieldtest import plan_file
    from simulator.report import make_plan_view

    _refuse(shown, FILES)
    _show(make_plan_view(plan_file(path), shown.measures), shown, {})


def _refuse(shown: Shown, names: tuple[str, ...]) -> None:
    """Complain before the work, not after it, about results that stand in the way."""
    from simulator.files import refuse_existing

    if shown.out_path is not None:
        refuse_existing([shown.out_path / n for n in names], overwrite=shown.overwrite)


def _show(view: AnswerView, shown: Shown, texts: dict[str, str]) -> None:
    from simulator.files import write_files
    from simulator.report import answer_json, answer_text, fieldtest_files

    if shown.out_path is not None:
        write_files(shown.out_path, fieldtest_files(view, texts), overwrite=shown.overwrite)
    if shown.as_json:
        click.echo(answer_json(view), nl=False)
        return
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(answer_text(view, encoding=encoding, is_short=shown.quiet), nl=False)
    if shown.out_path is not None and not shown.quiet:
        say("")
        for name in ("index.html", *texts):
            say(f"wrote {shown.out_path / name}")
