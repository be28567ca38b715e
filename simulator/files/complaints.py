"""What the schema check found, turned into the one form in which users are told.

`input_error_of` takes one finding of pydantic and gives line, key and sentence.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from simulator.errors import InputError
from simulator.files.nearest import nearest_text
from simulator.files.toml_places import KeyPath

MAX_SHOWN_CHARS = 40
NO_LINE = 1_000_000_000

_NUMBER_WITH_UNIT = re.compile(r"[-+]?\d+(?:[.,]\d+)?(?:e[-+]?\d+)?\s*(?P<unit>[^\d\s]{0,6})")

_EXPECTED_OF_TYPE = {
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "string_type": "text in quotation marks",
    "bool_type": "`true` or `false`",
    "tuple_type": "a list, as in [1, 2, 3]",
    "list_type": "a list, as in [1, 2, 3]",
    "dict_type": "a table of keys",
    "model_type": "a table of keys",
    "model_attributes_type": "a table of keys",
    "finite_number": "a finite number",
    "date_type": "a date, as in 2026-06-21",
    "time_type": "a time of day, as in 14:30:00",
    "datetime_type": "a date and time, as in 2026-06-21T14:30:00",
}


def describe_value(written: object) -> str:
    """What a value in a TOML file is, in words short enough for a sentence."""
    if isinstance(written, bool):
        return f"`{'true' if written else 'false'}`"
    if isinstance(written, str):
        return f'the text "{_short(written)}"' if written else "an empty text"
    if isinstance(written, int | float):
        too_large = abs(written) >= 1e30 and abs(written) != math.inf
        return "a number too large to use" if too_large else _short(str(written))
    if isinstance(written, list | tuple):
        return "an empty list" if not written else f"a list of {len(written)}"
    if isinstance(written, Mapping):
        return "a table of keys"
    if isinstance(written, datetime.date | datetime.time):
        return f"the date or time {written}"
    return _short(str(written))


def input_error_of(
    error: ErrorDetails,
    schema: type[BaseModel],
    data: Mapping[str, object],
    lines: Mapping[KeyPath, int],
    file: str,
) -> tuple[int, InputError]:
    """One finding of pydantic as an `InputError`.

    Parameters
    ----------
    error : dict
        One entry of ``ValidationError.errors()``.
    schema : type
        The schema that was checked.
    data : mapping
        What the file held.
    lines : mapping
        Line of every key, from `key_lines`.
    file : str
        Name of the file.

    Returns
    -------
    tuple
        Line (for sorting; large when there is none) and the error.
    """
    kind = error["type"]
    context: dict[str, Any] = error.get("ctx") or {}
    path = _path_in(data, error["loc"], keep_last=kind in ("missing", "extra_forbidden"))
    if kind == "problem" and context["key"]:
        names = context["key"].split(".")
        path = (*path, *(int(name) if name.isdigit() else name for name in names))
    line = _line_of(path, lines)
    found, expected, mend = _sentence(error, schema, path)
    places = [f"line {line}"] if line else []
    if path:
        places.append(f"key `{_dotted(path)}`")
    told = InputError(file=file, place=", ".join(places), found=found, expected=expected, mend=mend)
    return line or NO_LINE, told


def _sentence(error: ErrorDetails, schema: type[BaseModel], path: KeyPath) -> tuple[str, str, str]:
    """What was found, what is expected, and how to mend it."""
    kind = error["type"]
    context: dict[str, Any] = error.get("ctx") or {}
    written = error["input"]
    if kind == "problem":
        return context["found"], context["expected"], context["mend"]
    if kind == "missing":
        return "the key is missing", _meaning(schema, path), _advice_for_missing(schema, path)
    if kind == "extra_forbidden":
        return "the key is not known", "", _advice_for_unknown(schema, path)
    found = f"found {describe_value(written)}"
    if kind in _EXPECTED_OF_TYPE:
        mend = advice_for_number(written) if kind in ("float_type", "int_type") else ""
        return found, _EXPECTED_OF_TYPE[kind], mend
    if kind in ("literal_error", "enum"):
        choices = str(context.get("expected", "")).replace("'", '"')
        mend = nearest_text(written, _quoted(choices)) if isinstance(written, str) else ""
        return found, f"one of {choices}", mend if mend.startswith(("did", "capitals")) else ""
    limits = (("gt", "above"), ("ge", "at least"), ("lt", "below"), ("le", "at most"))
    for name, words in limits:
        if name in context:
            return found, f"a number {words} {context[name]:g}", ""
    if kind in ("too_short", "too_long", "string_too_short", "string_too_long"):
        least, most = context.get("min_length"), context.get("max_length")
        what = "characters" if kind.startswith("string") else "entries"
        expected = f"at least {least} {what}" if least is not None else f"at most {most} {what}"
        return found, expected, ""
    message = error["msg"].removeprefix("Value error, ")
    return found, message[:1].lower() + message[1:], ""


def _advice_for_missing(schema: type[BaseModel], path: KeyPath) -> str:
    table = _schema_at(schema, path[:-1])
    field = table.model_fields.get(str(path[-1])) if table else None
    inner = _schema_in(field.annotation) if field else None
    if inner is not None and get_origin(field.annotation) is tuple:  # type: ignore[union-attr]
        return f"add a table [[{path[-1]}]]"
    return f"add `{path[-1]} = …`"


def advice_for_number(written: object) -> str:
    """How to mend what stands where a number belongs; empty where nothing is plain.

    Parameters
    ----------
    written : object
        What the file holds there.
    """
    if not isinstance(written, str):
        return ""
    number = _NUMBER_WITH_UNIT.fullmatch(written.strip())
    if number is None:
        return ""
    if number["unit"]:
        return "write the number alone, without quotation marks and unit"
    return "write it without quotation marks, with a point for decimals"


def _advice_for_unknown(schema: type[BaseModel], path: KeyPath) -> str:
    table = _schema_at(schema, path[:-1])
    known = set(table.model_fields) if table else set()
    word = str(path[-1])
    for name, field in schema.model_fields.items():
        inner = _schema_in(field.annotation)
        if inner is not None and inner is not table and word in inner.model_fields:
            return f"it belongs in the table [{name}]"
    if table is not schema and word in schema.model_fields:
        return "it belongs above the first table, before any line in square brackets"
    return nearest_text(word, known)


def _meaning(schema: type[BaseModel], path: KeyPath) -> str:
    table = _schema_at(schema, path[:-1])
    field = table.model_fields.get(str(path[-1])) if table else None
    return (field.description or "") if field else ""


def _schema_at(schema: type[BaseModel], path: KeyPath) -> type[BaseModel] | None:
    """The schema of the table at a path."""
    here: type[BaseModel] | None = schema
    for name in path:
        if isinstance(name, int):
            continue
        field = here.model_fields.get(name) if here else None
        here = _schema_in(field.annotation) if field else None
    return here


def _schema_in(annotation: object) -> type[BaseModel] | None:
    """The schema inside ``X``, ``X | None``, ``tuple[X, ...]`` or ``dict[str, X]``."""
    if isinstance(annotation, type) and get_origin(annotation) is None:
        return annotation if issubclass(annotation, BaseModel) else None
    for inner in get_args(annotation):
        found = _schema_in(inner)
        if found is not None:
            return found
    return None


def _path_in(data: object, loc: Sequence[str | int], *, keep_last: bool) -> KeyPath:
    """The part of pydantic's location that stands in the file (it adds names of its own)."""
    path: list[str | int] = []
    here: Any = data
    for index, name in enumerate(loc):
        inside = isinstance(here, list) and isinstance(name, int) and 0 <= name < len(here)
        if inside or (isinstance(here, Mapping) and name in here):
            here = here[name]
        elif keep_last and index == len(loc) - 1:
            pass
        else:
            continue
        path.append(name)
    return tuple(path)


def _line_of(path: KeyPath, lines: Mapping[KeyPath, int]) -> int | None:
    """Line of the key, or of the closest table around it that stands in the file."""
    for size in range(len(path), 0, -1):
        if path[:size] in lines:
            return lines[path[:size]]
    return None


def _dotted(path: KeyPath) -> str:
    text = ""
    for name in path:
        text += f"[{name + 1}]" if isinstance(name, int) else f".{name}" if text else name
    return _short(text)


def _quoted(choices: str) -> list[str]:
    return choices.split('"')[1::2]


def _short(text: str) -> str:
    printable = "".join(char if char.isprintable() else "?" for char in text)
    if len(printable) <= MAX_SHOWN_CHARS:
        return printable
    return printable[: MAX_SHOWN_CHARS - 1] + "…"
