"""A run that is interrupted leaves whole files or none, whenever it is stopped."""

import ast
import importlib.util
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from simulator.cli import main
from simulator.files import write, write_files

ROOT = Path(__file__).parents[2]
SLOW = ["spend", "infer", "solve", "card", "bunch", "races"]
QUICK = ["ride", "verdict", "export", "new"]


def _load(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


hostile = _load(Path(__file__).parent / "hostile_files.py")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return hostile.hostile_set(tmp_path_factory.mktemp("set"))


def words_of(job, folder, out):
    if job == "new":
        return ["new", str(out / "new"), "--for", "bunch"]
    return hostile.commands(folder, out)[job]


def files_in(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def run(words):
    with pytest.raises(SystemExit) as left:
        main.run(words)
    return left.value.code


@pytest.mark.parametrize(
    "job", [*QUICK, *(pytest.param(name, marks=pytest.mark.slow) for name in SLOW)]
)
def test_interrupted_at_each_file(folder, tmp_path, monkeypatch, capsys, job):
    """Ctrl-C just before each file gets its name: those before it are whole, it is not there."""
    whole = tmp_path / "whole"
    assert run(words_of(job, folder, whole)) == 0
    expected = {name.partition("/")[2]: data for name, data in files_in(whole).items()}
    n_files = len(expected)
    assert n_files >= 2
    really = os.replace
    for stop_at in {1, 2, n_files}:
        out, calls = tmp_path / f"cut-{stop_at}", []

        def cut(source, target, calls=calls, stop_at=stop_at):
            calls.append(target)
            if len(calls) == stop_at:
                raise KeyboardInterrupt
            really(source, target)

        monkeypatch.setattr(write.os, "replace", cut)
        assert run(words_of(job, folder, out)) == main.EXIT_INTERRUPTED
        monkeypatch.setattr(write.os, "replace", really)
        left = {name.partition("/")[2]: data for name, data in files_in(out).items()}
        assert len(left) == stop_at - 1
        for name, data in left.items():
            if name != "README.md":  # it names its own folder
                assert data == expected[name], name


def test_interrupted_while_a_file_is_written(tmp_path, monkeypatch):
    (tmp_path / "old.txt").write_bytes(b"old")
    stopped = []

    class Stream:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return False

        def write(self, data):
            stopped.append(data)
            raise KeyboardInterrupt

    monkeypatch.setattr(Path, "open", lambda *_: Stream())
    with pytest.raises(KeyboardInterrupt):
        write.write_bytes(tmp_path / "old.txt", b"new", overwrite=True)
    assert stopped == [b"new"]
    monkeypatch.undo()
    assert files_in(tmp_path) == {"old.txt": b"old"}


@pytest.mark.slow
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_stopped_from_outside(folder, tmp_path, how):
    """Whatever stands under its own name is what an undisturbed run writes."""
    words = words_of("compare", folder, tmp_path / "whole")
    subprocess.run([sys.executable, "-m", "simulator", *words], check=True, capture_output=True)
    expected = files_in(tmp_path / "whole" / "compare")
    for number in range(4):
        out = tmp_path / f"cut-{number}"
        program = subprocess.Popen(
            [sys.executable, "-m", "simulator", *words_of("compare", folder, out)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=ROOT,
        )
        for _ in range(3000):
            if (out / "compare").exists() or program.poll() is not None:
                break
            time.sleep(0.005)
        time.sleep(0.004 * number)  # the files follow each other within milliseconds
        program.send_signal(how)
        code = program.wait(timeout=60)
        left = files_in(out)
        named = {Path(name).name: data for name, data in left.items() if not name.endswith(".tmp")}
        for name, data in named.items():
            assert data == expected[name], name
        if how != signal.SIGKILL:  # which nothing can tidy up after
            assert len(left) == len(named)
            # The last of these where the interpreter itself is about to leave.
            assert code in (0, main.EXIT_INTERRUPTED, main.EXIT_TERMINATED, -how)


def test_only_one_place_writes_files():
    """Each other way to write could leave half a file."""
    writing = {"write_text", "write_bytes", "savefig", "savetxt", "tofile", "save", "to_csv"}
    wrong = []
    for path in sorted((ROOT / "simulator").rglob("*.py")):
        if path.name == "write.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            is_method = isinstance(node.func, ast.Attribute)
            if is_method and name in writing:
                wrong.append((path.name, name))
            if name == "open":
                modes = [a.value for a in node.args if isinstance(a, ast.Constant)]
                if any(isinstance(mode, str) and set(mode) & set("wax+") for mode in modes):
                    wrong.append((path.name, name))
    # Figures are drawn into memory.
    assert {file for file, name in wrong} <= {"style.py", "powerplan_figure.py"}, wrong


def test_names_that_lead_out_are_no_names(tmp_path):
    for name in ("../a.txt", "/a.txt", "b/../../a.txt"):
        with pytest.raises(ValueError, match="leads out"):
            write_files(tmp_path, {name: b""})
    assert files_in(tmp_path) == {}
