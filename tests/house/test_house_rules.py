"""The rules of DEVELOPERS.md that a machine can hold."""

import ast
import importlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "simulator").rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
MAX_LINES = 400
VAGUE_NAMES = {
    "utils",
    "util",
    "helpers",
    "helper",
    "common",
    "manager",
    "base",
    "misc",
    "types",
    "io",
}
SOURCE_KEY = re.compile(r"\[([A-Z][A-Za-z]*\d{3,5}[a-z]?)(?:,[^\]]*)?\]")
MACHINE_PATH = re.compile(r"(?<![\w.~])/(?:work|tmp|root|home|usr|var|opt|mnt|Users)/\w")


def relative(path):
    return path.relative_to(ROOT).as_posix()


def tracked():
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        check=False,
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    names = [name for name in listed.stdout.decode().split("\0") if name]
    return [ROOT / name for name in names if (ROOT / name).is_file()]


def test_imports_run_down_the_floors():
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()",
         "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_rooms_import_each_other_through_the_door():
    """``from simulator.course.track import x`` is for the course room alone."""
    wrong = []
    for path in SOURCES:
        parts = path.relative_to(ROOT / "simulator").parts
        room = parts[0] if len(parts) > 1 else ""
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            elif isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            for name in names:
                levels = name.split(".")
                if levels[0] == "simulator" and len(levels) > 2 and levels[1] != room:
                    wrong.append(f"{relative(path)}:{node.lineno} imports {name}")
    # Kernels are many small files without objects: the ride room may name them, and the program
    # itself starts from the command line's main file.
    allowed = re.compile(r"^simulator/(ride/\w+\.py:\d+ imports simulator\.physics\.|__main__)")
    assert [line for line in wrong if not allowed.match(line)] == []


def test_compiled_code_stands_in_physics_only():
    wrong = [
        relative(path)
        for path in SOURCES
        if "physics" not in path.parts
        and re.search(
            r"^\s*(?:import numba|from numba|@(?:nj|j)it)", path.read_text(encoding="utf-8"), re.M
        )
    ]
    assert wrong == []


def test_one_decorator_for_all_kernels():
    wrong = [
        relative(path)
        for path in SOURCES
        if path.name != "jit.py" and re.search(r"\bn?jit\(", path.read_text(encoding="utf-8"))
    ]
    assert wrong == []


def test_no_file_over_400_lines():
    long = {
        relative(path): n_lines
        for path in [*SOURCES, *TESTS]
        if (n_lines := path.read_text(encoding="utf-8").count("\n")) > MAX_LINES
    }
    assert long == {}


def test_no_two_modules_share_a_name_and_none_is_vague():
    names = [path.stem for path in SOURCES if path.stem not in ("__init__", "__main__")]
    twice = {name for name in names if names.count(name) > 1}
    assert twice == set()
    assert not VAGUE_NAMES & set(names)


def test_no_two_test_files_share_a_name():
    names = [path.name for path in TESTS if path.name != "conftest.py"]
    assert sorted(names) == sorted(set(names))


def test_tests_mirror_the_rooms():
    rooms = {path.parent.name for path in SOURCES if path.parent.parent.name == "simulator"}
    besides = {"published", "oracle", "laws", "gold", "real", "house", "benchmarks", "docs"}
    besides |= {"fuzz", "mutation"}
    folders = {path.relative_to(ROOT / "tests").parts[0] for path in TESTS}
    folders -= {"conftest.py"}
    assert folders <= rooms | besides | {"page", "end_to_end"}


def test_no_machine_paths_in_tracked_files():
    wrong = []
    for path in tracked():
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        for number, line in enumerate(text.splitlines(), start=1):
            if line.startswith("#!") or path == Path(__file__):
                continue
            if MACHINE_PATH.search(line):
                wrong.append(f"{relative(path)}:{number} {line.strip()[:80]}")
    assert wrong == []


def docstrings(path):
    """(where, name, docstring or None) of the module and of everything public in it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    yield f"{relative(path)}:1", "module", ast.get_docstring(tree)
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield f"{relative(path)}:{node.lineno}", node.name, ast.get_docstring(node)
            if isinstance(node, ast.ClassDef):
                for inner in node.body:
                    if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                        yield (
                            f"{relative(path)}:{inner.lineno}",
                            inner.name,
                            ast.get_docstring(inner),
                        )


def test_everything_public_says_what_it_is():
    silent = [
        f"{where} {name}"
        for path in SOURCES
        for where, name, docstring in docstrings(path)
        if not docstring
    ]
    assert silent == []


def test_source_keys_are_listed_and_used():
    listed_part = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Sources")[2]
    listed = set(re.findall(r"^- \[(\w+)\]", listed_part, re.M))
    used = {}
    for path in [*SOURCES, *TESTS]:
        for key in SOURCE_KEY.findall(path.read_text(encoding="utf-8")):
            used.setdefault(key, relative(path))
    assert {key: where for key, where in used.items() if key not in listed} == {}
    assert listed - set(used) == set()


def test_light_package():
    code = (
        "import sys, simulator, simulator.errors, simulator.units\n"
        "heavy = {'numba', 'numpy', 'scipy', 'matplotlib', 'pydantic'} & set(sys.modules)\n"
        "sys.exit(f'loaded: {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("room", ["files", "setup", "course", "pacing", "starters"])
def test_rooms_without_kernels_load_no_kernels(room):
    code = (
        f"import sys, simulator.{room}\n"
        "heavy = {'numba', 'matplotlib'} & set(sys.modules)\n"
        "sys.exit(f'loaded: {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_each_door_exports_what_it_says():
    for path in SOURCES:
        if path.name != "__init__.py" or path.parent.name in ("simulator",):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        imported = {
            alias.asname or alias.name
            for node in ast.walk(tree)  # also under TYPE_CHECKING: a door may open lazily
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("simulator.")
            for alias in node.names
        }
        listed = {
            element.value
            for node in tree.body
            if isinstance(node, ast.Assign)
            and isinstance(node.targets[0], ast.Name)
            and node.targets[0].id == "__all__"
            for element in node.value.elts
        }
        assert listed == imported, relative(path)


@pytest.mark.parametrize("room", sorted({path.parent.name for path in SOURCES} - {"simulator"}))
def test_every_name_at_a_door_is_there(room):
    door = importlib.import_module(f"simulator.{room}")
    assert [name for name in getattr(door, "__all__", ()) if not hasattr(door, name)] == []


def test_room_door_says_where_to_start():
    for path in SOURCES:
        if path.name == "__init__.py" and path.parent.name != "simulator":
            assert len(ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "") > 40
