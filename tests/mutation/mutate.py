"""Do the tests notice wrong code? ``python tests/mutation/mutate.py --rooms course,spend``.

For each room a sample of small wrong versions of its files (`mutants.py`) is tried in a copy of
the project. A mutant is killed when a test that reaches its line fails, when the code no longer
starts, or when it runs over its time. What survives is listed with its place and change, and
written to ``out/mutation/<room>.json``.

    python tests/mutation/mutate.py --seed 9 --mutants 30                     all rooms
    python tests/mutation/mutate.py --rooms course --again                    survivors once more
    python tests/mutation/mutate.py --show                                    last results again

`--again` tries the survivors of the last run on the code and with the tests of today; a line that
is no longer there counts as gone. Mutants of kernels run without the compiler, which would take
40 s for each of them.
Needs coverage (in the extra ``dev``) and a system with ``fork``.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import json
import os
import resource
import shutil
import signal
import sys
import time
import traceback
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
PROJECT = HERE.parents[1]
OUT = PROJECT / "out" / "mutation"
TREE = OUT / "tree"
sys.path.insert(0, str(HERE))

from baseline import Reach, watch  # noqa: E402
from mutants import Mutant, applied, found_again, sample, text_of  # noqa: E402

COPIED = ("simulator", "tests", "courses", "configs", "docs", "examples")
SINGLE = ("pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md")

# Rooms whose mutants are drawn together, the tests that guard them, and whether kernels compile.
ROOMS: dict[str, dict[str, Any]] = {
    "physics": {
        "rooms": ("physics",),
        "tests": (
            "published/test_air_standards.py",
            "published/test_braking_limits.py",
            "published/test_corner_limits.py",
            "published/test_closed_forms.py",
            "published/test_critical_power.py",
            "published/test_martin_1998.py",
            "published/test_wind.py",
            "physics/test_kernels_in_small.py",
            "ride/test_stops.py",
            "ride/test_rehearse.py",
            "bunch/test_wheel.py",
            "bunch/test_bunch_small_facts.py",
        ),
        "compiled": False,
    },
    "course": {
        "rooms": ("course",),
        "tests": ("course", "published/test_geodesy.py", "published/test_geodesy_tiles.py"),
        "compiled": True,
    },
    "compare": {
        "rooms": ("compare", "ride"),
        "tests": (
            "compare",
            "ride",
            "laws",
            "pacing",
            "setup/test_caution_and_bottles.py",
            "published/test_martin_1998.py",
        ),
        "compiled": True,
    },
    "fieldtest": {
        "rooms": ("fieldtest",),
        "tests": (
            "fieldtest",
            "published/test_fieldtest_closed_forms.py",
            "published/test_fieldtest_ranges.py",
        ),
        "compiled": True,
    },
    "spend": {"rooms": ("spend",), "tests": ("spend",), "compiled": True},
    "plan": {
        "rooms": ("powerplan", "bunch"),
        "tests": (
            "powerplan",
            "bunch",
            "published/test_drafting.py",
            "published/test_optimal_pacing.py",
        ),
        "compiled": True,
    },
}
# Loaded once, before each mutant forks off: most of the time of a short test run is imports.
LOADED_BEFORE = (
    *("pytest", "_pytest.assertion.rewrite", "hypothesis.strategies", "numpy", "numpy.random"),
    *("numba", "scipy.optimize", "scipy.interpolate", "scipy.linalg", "scipy.sparse.linalg"),
    *("scipy.stats", "shapely", "pydantic", "click", "gpxpy", "defusedxml.ElementTree"),
    *("tomllib", "jinja2", "fitdecode", "matplotlib.figure"),
)
TEST_LIMIT_S = {True: 60.0, False: 4.0}
"""Processor time of one test; a longer one is left out, compiled or not."""
NO_ANSWER = 99
N_CONTROLS = 3
NO_TESTS = 5


def copy_project(tree: Path) -> None:
    """A fresh copy; times of files kept, for compiled kernels are looked up by them."""
    shutil.rmtree(tree, ignore_errors=True)
    tree.mkdir(parents=True)
    for name in COPIED:
        shutil.copytree(
            PROJECT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__", "found")
        )
    for name in SINGLE:
        shutil.copy2(PROJECT / name, tree / name)


class Chosen:
    """A pytest plugin: only these tests, in this order."""

    def __init__(self, tests: list[str]) -> None:
        self.place = {name: i for i, name in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        """Keep the chosen ones; files in turn, so that what a file shares is made once."""
        kept = [item for item in items if item.nodeid in self.place]
        first: dict[str, int] = {}
        for item in sorted(kept, key=lambda item: self.place[item.nodeid]):
            first.setdefault(item.nodeid.partition("::")[0], self.place[item.nodeid])
        kept.sort(key=lambda one: (first[one.nodeid.partition("::")[0]], self.place[one.nodeid]))
        items[:] = kept


def in_child(work: Any, log: Path, cpu_s: float) -> tuple[int, float]:
    """Exit code of work done in a fork (negative: a signal ended it) and its processor time."""
    sys.stdout.flush()
    pid = os.fork()
    if pid == 0:
        code = NO_ANSWER
        try:
            os.setsid()
            target = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(target, 1)
            os.dup2(target, 2)
            resource.setrlimit(resource.RLIMIT_CPU, (int(cpu_s) + 1, int(cpu_s) + 3))
            code = int(work())
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    _, status, used = os.wait4(pid, 0)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL)
    return os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime


def pytest_options(compiled: bool) -> list[str]:
    """Options of every run in the copy."""
    options = ["--rootdir", str(TREE), "-c", str(TREE / "pyproject.toml")]
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # loaded before, on purpose
    # Division by zero is left to the compiler's rule, which numpy warns about without it.
    return options if compiled else [*options, "-W", "ignore::RuntimeWarning"]


def enter(tree: Path) -> None:
    """Make the copy the project of this process and of what it starts."""
    os.chdir(tree)
    sys.path[:0] = [str(tree)]
    os.environ["PYTHONPATH"] = str(tree)


def measure(room: str, to: Path) -> None:
    """Run the tests of a room on the true code."""
    plan = ROOMS[room]
    tests = [f"tests/{name}" for name in plan["tests"] if (TREE / "tests" / name).exists()]

    def work() -> int:
        enter(TREE)
        options = pytest_options(plan["compiled"])
        watch(TREE, tests, TEST_LIMIT_S[plan["compiled"]], options, to)
        return 0

    code, used_s = in_child(work, OUT / f"{room}.baseline.log", 3600.0)
    if code:
        sys.exit(f"the tests of {room} could not be measured: see {OUT / f'{room}.baseline.log'}")
    print(f"{room}: tests measured in {used_s:.0f} s of processor time", flush=True)


def try_mutant(room: str, mutant: Mutant, reach: Reach, stamp: int, budget_s: float) -> str:
    """``killed``, ``survived`` or ``not reached``."""
    tests = reach.tests_of(mutant.file, *mutant.lines)
    if not tests:
        return "not reached"
    chosen: list[str] = []
    cost_s = 0.0
    for test in tests:
        if chosen and cost_s + reach.costs_s[test] > budget_s:
            break
        chosen.append(test)
        cost_s += reach.costs_s[test]
    path = TREE / mutant.file
    true_text, true_stat = path.read_bytes(), path.stat()

    def work() -> int:
        import pytest

        enter(TREE)
        files = sorted({name.partition("::")[0] for name in chosen})
        options = pytest_options(ROOMS[room]["compiled"])
        return pytest.main([*files, "-x", "-q", *options], plugins=[Chosen(chosen)])

    path.write_bytes(applied(true_text, mutant))
    # Python tells old bytecode by whole seconds and size: each mutant gets a second of its own.
    os.utime(path, (stamp, stamp))
    try:
        code, _ = in_child(work, OUT / f"{room}.last.log", 10.0 + 3.0 * cost_s)
    finally:
        path.write_bytes(true_text)
        os.utime(path, ns=(true_stat.st_atime_ns, true_stat.st_mtime_ns))
    if code == NO_TESTS:
        sys.exit(f"no tests ran for {mutant.name}")
    return "killed" if code else "survived"


def try_all(room: str, mutants: list[Mutant], reach: Reach, budget_s: float) -> list[str]:
    """Try mutants one after the other and tell each outcome."""
    outcomes = []
    start = 1_000_000_000 + int(time.time()) % 100_000_000
    for i, mutant in enumerate(mutants[: N_CONTROLS if len(mutants) > 1 else 0]):
        # The true code under the same handling must pass, or "killed" would mean nothing.
        same = replace(mutant, new=mutant.old)
        if try_mutant(room, same, reach, start - 2 * i - 2, budget_s) == "killed":
            sys.exit(f"unchanged code fails: see {OUT / f'{room}.last.log'}")
    for i, mutant in enumerate(mutants):
        began_s = time.monotonic()
        outcome = try_mutant(room, mutant, reach, start + 2 * i, budget_s)
        outcomes.append(outcome)
        took_s = time.monotonic() - began_s
        print(f"{room} {i + 1:3d} {outcome:11s} {took_s:5.1f} s  {mutant.name}", flush=True)
    return outcomes


def run_room(room: str, *, seed: int, n_mutants: int, budget_s: float, again: bool) -> None:
    """Measure, draw, try and write the result of one room."""
    result_path = OUT / f"{room}.json"
    measured = OUT / f"{room}.reach.json"
    if not again:
        files = sorted(
            path.relative_to(TREE).as_posix()
            for name in ROOMS[room]["rooms"]
            for path in (TREE / "simulator" / name).glob("*.py")
        )
        mutants, n_all = sample(TREE, files, n_mutants, seed)
        measure(room, measured)
        reach = Reach(TREE, measured)
        result = {
            "room": room,
            "seed": seed,
            "n_all": n_all,
            "n_tests": len(reach.costs_s),
            "tests_left_out": reach.left_out,
            "mutants": [{**asdict(m), "text": text_of(TREE, m)} for m in mutants],
        }
        outcomes = try_all(room, mutants, reach, budget_s)
        result["before"] = outcomes
    else:
        result = json.loads(result_path.read_text())
        measure(room, measured)
        reach = Reach(TREE, measured)
        outcomes = list(result.get("after", result["before"]))
        for i, (noted, outcome) in enumerate(zip(result["mutants"], outcomes, strict=True)):
            if outcome != "killed":
                now = found_again(TREE, noted)
                (outcomes[i],) = ["gone"] if now is None else try_all(room, [now], reach, budget_s)
        result["after"] = outcomes
    result_path.write_text(json.dumps(result, indent=1))


def show(rooms: list[str]) -> None:
    """Print scores and survivors of the last runs."""
    print("room        of all  drawn  killed before  killed after")
    lines = []
    for room in rooms:
        path = OUT / f"{room}.json"
        if not path.exists():
            continue
        result = json.loads(path.read_text())
        n = len(result["mutants"])
        n_gone = result.get("after", []).count("gone")
        before = result["before"].count("killed")
        last = result.get("after", result["before"])
        after = last.count("killed")
        print(
            f"{room:10s} {result['n_all']:7d} {n:6d} {before:6d} ({before / n:4.0%}) "
            f"{after:6d} of {n - n_gone} ({after / (n - n_gone):4.0%})"
        )
        for mutant, outcome in zip(result["mutants"], last, strict=True):
            if outcome != "killed":
                place = f"{mutant['file']}:{mutant['line']}"
                lines.append(f"  {outcome:11s} {place}  {mutant['old']} -> {mutant['new']}")
    print("\n".join(["", "Survivors:", *lines]))


def main() -> None:
    """Read the options and run."""
    asked = argparse.ArgumentParser(description="Try small wrong versions of the code.")
    asked.add_argument("--rooms", default=",".join(ROOMS), help="rooms, with commas between")
    asked.add_argument("--mutants", type=int, default=30, help="how many to draw a room")
    asked.add_argument("--seed", type=int, default=9)
    asked.add_argument(
        "--budget", type=float, default=1e9, metavar="SECONDS",
        help="tests a mutant is given, in processor time, the cheapest first",
    )  # fmt: skip
    asked.add_argument("--again", action="store_true", help="only what survived the last run")
    asked.add_argument("--keep-copy", action="store_true", help="the copy of the last run is fresh")
    asked.add_argument("--show", action="store_true", help="only print the last results")
    given = asked.parse_args()
    rooms = given.rooms.split(",")
    if given.show:
        show(rooms)
        return
    OUT.mkdir(parents=True, exist_ok=True)
    compiled = {ROOMS[room]["compiled"] for room in rooms}
    if len(compiled) > 1:
        # Whether kernels compile is settled when numba is loaded: one process for each way.
        for one in sorted(compiled):
            part = ",".join(room for room in rooms if ROOMS[room]["compiled"] is one)
            again = [word for word in sys.argv[1:] if word not in ("--rooms", given.rooms)]
            os.spawnv(
                os.P_WAIT, sys.executable, [sys.executable, __file__, *again, "--rooms", part]
            )
        show(rooms)
        return
    os.environ["NUMBA_DISABLE_JIT"] = "0" if compiled.pop() else "1"
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    if not given.keep_copy:
        copy_project(TREE)
    for name in LOADED_BEFORE:
        importlib.import_module(name)
    for room in rooms:
        run_room(
            room,
            seed=given.seed,
            n_mutants=given.mutants,
            budget_s=given.budget,
            again=given.again,
        )
    show(rooms)


if __name__ == "__main__":
    main()
