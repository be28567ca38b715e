"""The true code under its tests: what each test reaches and what it costs.

A mutant needs only the tests that reach its line. Runs inside the process that runs pytest.
"""

from __future__ import annotations

import ast
import json
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

SHARED = "shared:"
"""Marks work done by a fixture that several tests share."""


def _stop(_number: int, frame: FrameType | None) -> None:
    if frame is not None and "coverage" in frame.f_code.co_filename:
        # It may hold a lock here: a moment later.
        signal.setitimer(signal.ITIMER_PROF, 0.01)
        return
    message = "over the time limit of a mutation run"
    raise TimeoutError(message)


class Watch:
    """A pytest plugin: one coverage context a test, one a shared fixture, and processor times."""

    def __init__(self, coverage: Any, limit_s: float) -> None:
        self.coverage = coverage
        self.limit_s = limit_s
        self.costs_s: dict[str, float] = {}
        self.bad: set[str] = set()
        self.fixtures: dict[str, list[str]] = {}
        self.now = ""

    def turn_to(self, context: str) -> str:
        """Book what runs from here on under this name; the name before."""
        before, self.now = self.now, context
        self.coverage.switch_context(context)
        return before

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Time one test."""
        self.fixtures[item.nodeid] = list(getattr(item, "fixturenames", ()))
        self.turn_to(item.nodeid)
        signal.signal(signal.SIGPROF, _stop)
        signal.setitimer(signal.ITIMER_PROF, self.limit_s)
        start_s = time.process_time()
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            self.costs_s[item.nodeid] = time.process_time() - start_s
            self.turn_to("")

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Iterator[Any]:
        """Book shared work under the fixture's name."""
        if fixturedef.scope == "function":
            return (yield)
        before = self.turn_to(SHARED + fixturedef.argname)
        try:
            return (yield)
        finally:
            self.turn_to(before)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note what did not pass."""
        if not report.passed:
            self.bad.add(report.nodeid)


def watch(root: Path, tests: list[str], limit_s: float, options: list[str], out: Path) -> None:
    """Run the tests once and write what each reaches to a JSON file."""
    import coverage

    measured = coverage.Coverage(
        source=[str(root / "simulator")], data_file=None, config_file=False
    )
    measured.start()
    plugin = Watch(measured, limit_s)
    pytest.main([*tests, "-q", "--continue-on-collection-errors", *options], plugins=[plugin])
    measured.stop()
    data = measured.get_data()
    reached: dict[str, dict[int, list[str]]] = {}
    for file in data.measured_files():
        lines = data.contexts_by_lineno(file)
        reached[Path(file).relative_to(root).as_posix()] = {
            line: sorted(filter(None, contexts)) for line, contexts in lines.items()
        }
    good = {name: cost for name, cost in plugin.costs_s.items() if name not in plugin.bad}
    out.write_text(
        json.dumps(
            {
                "costs_s": good,
                "left_out": sorted(plugin.bad),
                "fixtures": {name: plugin.fixtures[name] for name in good},
                "reached": reached,
            }
        )
    )


def _keeps_results(root: Path, file: str) -> bool:
    """Whether a test file caches results between its tests, so that only the first one reaches."""
    tree = ast.parse((root / file).read_bytes())
    return any(
        "cache" in ast.unparse(decorator)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        for decorator in node.decorator_list
    )


class Reach:
    """Which tests can notice a change of a line."""

    def __init__(self, root: Path, written: Path) -> None:
        noted = json.loads(written.read_text())
        self.root = root
        self.costs_s: dict[str, float] = noted["costs_s"]
        self.left_out: list[str] = noted["left_out"]
        self.reached = noted["reached"]
        self.by_fixture: dict[str, set[str]] = {}
        self.by_file: dict[str, set[str]] = {}
        for test, names in noted["fixtures"].items():
            self.by_file.setdefault(test.partition("::")[0], set()).add(test)
            for name in names:
                self.by_fixture.setdefault(SHARED + name, set()).add(test)
        self.keeping = {file for file in self.by_file if _keeps_results(root, file)}

    def _tests(self, contexts: set[str]) -> set[str]:
        tests = {name for name in contexts if name in self.costs_s}
        for context in contexts:
            tests |= self.by_fixture.get(context, set())
        for test in list(tests):
            file = test.partition("::")[0]
            if file in self.keeping:
                tests |= self.by_file[file]
        return tests

    def tests_of(self, file: str, first: int, last: int) -> list[str]:
        """Tests that run these lines, the cheapest first; of lines run at import: of the file."""
        lines = self.reached.get(file, {})
        here = [lines[str(line)] for line in range(first, last + 1) if str(line) in lines]
        tests = self._tests({context for contexts in here for context in contexts})
        if here and not any(here):
            tests = self._tests({context for contexts in lines.values() for context in contexts})
            tests = tests or set(self.costs_s)
        return sorted(tests, key=lambda name: (self.costs_s[name], name))
