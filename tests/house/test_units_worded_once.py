"""Units that people read stand in ``simulator/measures.py`` alone."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
UNIT = re.compile(
    r"(?:^|[\s,(·])(?:km|km/h|m/s|kg|°C|mph|lb|ft|mi|°F)(?:$|[\s,.;:)·])"
    r"|\bkilomet|(?:^|\s)m(?:$|[\s,.;:)·])"
)
ELSEWHERE = ("measures.py", "nearest.py", "typical_year.py", "filekinds.py", "tiles.py")
"""The one place; and what reads the files of others or names units of keys."""

ABOUT_FILES = {"help", "description", "why", "found", "expected", "mend", "place", "epilog"}
"""Keywords of options, keys and complaints: they speak of files, which keep their units."""

KEPT = {
    " kg m²", "Inertia of both wheels, kg m²",  # the trade knows no other unit
    "kg", "m/s", "m",  # units of a figure in SI, worded by the report
    "km",  # a key of what the cursor reads
    "a ride with stretches of 400 m that can be used",  # what a file should hold
    " km", " m of climbing, ",  # repr of a course, for those who write programs
}  # fmt: skip


def silent(tree):
    """Docstrings, keys of exports, and texts about files."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            yield node.value
        elif isinstance(node, ast.Call):
            for keyword in node.keywords:
                if keyword.arg in ABOUT_FILES:
                    yield from ast.walk(keyword.value)
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names = {target.id for target in targets if isinstance(target, ast.Name)}
            if any(name.endswith("_KEYS") or name == "EQUATIONS" for name in names):
                yield from ast.walk(node)


def written_units(source):
    tree = ast.parse(source)
    left_out = {id(node) for node in silent(tree)}
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and id(node) not in left_out
        and UNIT.search(node.value)
        and node.value not in KEPT
    ]


def test_no_sentence_or_label_writes_a_unit_of_its_own():
    wrong = [
        f"{path.relative_to(ROOT).as_posix()}:{line} {text!r}"
        for path in sorted((ROOT / "simulator").rglob("*.py"))
        if path.name not in ELSEWHERE and "physics" not in path.parts
        for line, text in written_units(path.read_text(encoding="utf-8"))
    ]
    assert wrong == []


def test_such_a_sentence_would_be_found():
    assert written_units('text = f"{x:.1f} km to go"') == [(1, " km to go")]
    assert written_units('"""A distance in km."""\nlabel = "Speed, km/h"') == [(2, "Speed, km/h")]
