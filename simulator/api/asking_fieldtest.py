"""The questions of a field test; see ``asking``."""

from __future__ import annotations

from pathlib import Path

from simulator.api.fieldtest_answers import FitAnswer, RunsAnswer, VerdictAnswer
from simulator.api.given import AnyPath


def infer_fieldtest(path: AnyPath) -> FitAnswer:
    """Fit CdA and Crr of each build to all runs of a test day.

    Parameters
    ----------
    path : str or path
        File of the test day (TOML): builds, roads, runs; see docs/fieldtest.md.

    Returns
    -------
    FitAnswer
        ``cda_m2`` and ``crr`` by build, each a value with its standard uncertainty; ``builds``
        ready for `compare_builds`; the fit with its covariance under ``outcome.fit``.

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If the fit does not settle.
    """
    from simulator.fieldtest import infer_day, load_testday

    return FitAnswer(outcome=infer_day(load_testday(Path(path))))


def judge_fieldtest(path: AnyPath) -> VerdictAnswer:
    """Say whether observed times are what the builds' differences predict.

    Parameters
    ----------
    path : str or path
        File that names two builds and the times of each on some stretches (TOML).

    Returns
    -------
    VerdictAnswer
        ``is_expected``; ``observed_s`` and ``predicted_s`` (n_stretches,).

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If a build comes to a halt at the power stated.
    """
    from simulator.fieldtest import judge_file

    return VerdictAnswer(verdict=judge_file(Path(path)))


def plan_runs(path: AnyPath) -> RunsAnswer:
    """Say how many runs of which kind tell two builds apart.

    Parameters
    ----------
    path : str or path
        File that names two builds and the kinds of run that can be ridden (TOML).

    Returns
    -------
    RunsAnswer
        ``runs_for_cda``, ``runs_for_crr`` and ``runs_for_both`` by mix of kinds.

    Raises
    ------
    InputError
        If a file cannot be used.
    """
    from simulator.fieldtest import plan_file

    return RunsAnswer(plan=plan_file(Path(path)))
