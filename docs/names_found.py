"""Every name that a user meets, found in the program: commands, options, labels, colours."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import click

from simulator.cli import main

ROOT = Path(__file__).parents[1]
REPORT = ROOT / "simulator" / "report"

_LABELS = {"set_xlabel", "set_ylabel"}
_HEADING = re.compile(r"<h[1-4][^>]*>(.*?)</h[1-4]>", re.S)


def commands() -> dict[str, click.Command]:
    """Every command and subcommand by its full name, in the order of ``--help``."""
    found: dict[str, click.Command] = {}

    def walk(name: str, command: click.Command, context: click.Context) -> None:
        found[name] = command
        if isinstance(command, click.Group):
            for inner in command.list_commands(context):
                below = command.get_command(context, inner)
                if below is not None:
                    walk(f"{name} {inner}", below, click.Context(below, parent=context))

    group = main.group
    context = click.Context(group, info_name="buildgap")
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if command is not None:
            walk(name, command, click.Context(command, parent=context))
    return found


def options() -> dict[str, list[str]]:
    """Long name of every option -> the commands that take it."""
    found: dict[str, list[str]] = {}
    for name, command in commands().items():
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                for written in parameter.opts:
                    if written.startswith("--"):
                        found.setdefault(written, []).append(name)
    return dict(sorted(found.items()))


def columns() -> dict[str, list[str]]:
    """Label of every column of a table -> the files it is told in."""
    return _calls("Column", "label")


def captions() -> dict[str, list[str]]:
    """Caption of every table -> the files it is told in."""
    return _calls("Table", "caption")


def axes() -> dict[str, list[str]]:
    """Label of every axis of a picture -> the files it is told in."""
    found: dict[str, list[str]] = {}
    for path, node in _nodes():
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr in _LABELS
            and node.args
        ):
            for text in _texts(node.args[0]):
                _note(found, text, path)
    return dict(sorted(found.items()))


def headings() -> dict[str, list[str]]:
    """Heading of every part of a page -> the templates it is told in."""
    found: dict[str, list[str]] = {}
    for path in sorted((REPORT / "templates").glob("*.j2")):
        for heading in _HEADING.findall(path.read_text(encoding="utf-8")):
            text = re.sub(r"\{%.*?%\}|<[^>]+>", "", heading, flags=re.S)
            text = re.sub(r"\{\{.*?\}\}", "…", text, flags=re.S)
            text = " ".join(text.split())
            if text.strip(" …"):
                _note(found, text, path)
    return dict(sorted(found.items()))


def json_keys() -> dict[str, list[str]]:
    """Top-level key of every JSON, as its ``about`` tells them -> the files they are told in."""
    found: dict[str, list[str]] = {}
    for path, node in _nodes():
        if not isinstance(node, ast.Assign) or not isinstance(node.value, ast.Dict):
            continue
        (target,) = node.targets[:1]
        if isinstance(target, ast.Name) and target.id.endswith("_KEYS"):
            for key in node.value.keys:
                if isinstance(key, ast.Constant) and isinstance(key.value, str):
                    _note(found, key.value, path)
    return dict(sorted(found.items()))


def colours() -> dict[str, str]:
    """Name of every colour of the palette -> the colour."""
    from simulator.report import palette

    found: dict[str, str] = {}
    for name in sorted(vars(palette)):
        value = getattr(palette, name)
        if not name.isupper():
            continue
        each = value if isinstance(value, dict) else {}
        if isinstance(value, tuple):
            each = {str(number): colour for number, colour in enumerate(value, start=1)}
        if isinstance(value, str) and value.startswith("#"):
            found[name] = value
        for key, colour in each.items():
            if isinstance(colour, str) and colour.startswith("#"):
                found[f"{name} {key}"] = colour
    return found


def written_files() -> dict[str, list[str]]:
    """Name of every file that is written -> the files that tell it."""
    found: dict[str, list[str]] = {}
    for path in [*sorted((ROOT / "simulator" / "cli").glob("*.py")), REPORT / "result_files.py"]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Constant)
                and isinstance(node.value, str)
                and re.fullmatch(r"[a-z-]+\.(?:html|png|svg|pdf|csv|json|gpx)", node.value)
            ):
                _note(found, node.value, path)
    return dict(sorted(found.items()))


def _nodes() -> Iterator[tuple[Path, ast.AST]]:
    for path in sorted(REPORT.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            yield path, node


def _calls(function: str, argument: str) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for path, node in _nodes():
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == function
        ):
            for keyword in node.keywords:
                if keyword.arg == argument:
                    for text in _texts(keyword.value):
                        _note(found, text, path)
    return dict(sorted(found.items()))


def _texts(node: ast.AST) -> list[str]:
    """Text that an expression gives; what is put in at run time shows as "…"."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) and node.value.strip() else []
    if isinstance(node, ast.IfExp):
        return [*_texts(node.body), *_texts(node.orelse)]
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = _texts(node.left) or ["…"], _texts(node.right) or ["…"]
        return [a + b for a in left for b in right]
    if isinstance(node, ast.JoinedStr):
        parts = [str(part.value) if isinstance(part, ast.Constant) else "…" for part in node.values]
        text = "".join(parts)
        return [text] if text.strip("… ,") else []
    return []


def _note(found: dict[str, list[str]], text: str, path: Path) -> None:
    where = path.name
    if where not in found.setdefault(text, []):
        found[text].append(where)
