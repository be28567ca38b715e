"""Every key that people may write, read from the schemas: for the reference and the names."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pydantic
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from simulator.bunch import BunchFile
from simulator.course import CourseFile
from simulator.fieldtest import RunPlanFile, TestDayFile, VerdictFile
from simulator.files import Range, StrictSchema, ValueWithSd
from simulator.pacing import PacingFile
from simulator.setup import BuildFile, PartsFile, RiderFile, WeatherFile
from simulator.spend import SpendFile


@dataclass(frozen=True, slots=True, kw_only=True)
class FileKind:
    """One kind of file."""

    title: str
    anchor: str
    schema: type[StrictSchema]
    used_by: str
    example: str


KINDS = (
    FileKind(
        title="Build",
        anchor="build",
        schema=BuildFile,
        used_by="`--build` of `compare`, `ride`, `spend`, `powerplan`, `bunch`",
        example="configs/plover.toml",
    ),
    FileKind(
        title="Rider",
        anchor="rider",
        schema=RiderFile,
        used_by="`--rider` of every command that rides",
        example="configs/rider.toml",
    ),
    FileKind(
        title="Weather",
        anchor="weather",
        schema=WeatherFile,
        used_by="`--weather` of every command that rides; `buildgap weather --out` writes one",
        example="configs/weather.toml",
    ),
    FileKind(
        title="Course",
        anchor="course",
        schema=CourseFile,
        used_by="`--course`, as `course.toml` in a folder with its track",
        example="configs/course.toml",
    ),
    FileKind(
        title="Pacing",
        anchor="pacing",
        schema=PacingFile,
        used_by="`--pacing`; `buildgap powerplan solve --out` writes one",
        example="configs/pacing.toml",
    ),
    FileKind(
        title="Catalogue of parts",
        anchor="catalogue-of-parts",
        schema=PartsFile,
        used_by="`buildgap spend --parts`",
        example="configs/parts.toml",
    ),
    FileKind(
        title="Plan of budgets and races",
        anchor="plan-of-budgets-and-races",
        schema=SpendFile,
        used_by="`buildgap spend --plan`",
        example="configs/spend.toml",
    ),
    FileKind(
        title="Bunch",
        anchor="bunch",
        schema=BunchFile,
        used_by="`buildgap bunch --bunch`",
        example="configs/bunch.toml",
    ),
    FileKind(
        title="Test day",
        anchor="test-day",
        schema=TestDayFile,
        used_by="`buildgap fieldtest infer`",
        example="configs/fieldtest/testday.toml",
    ),
    FileKind(
        title="Observed gaps",
        anchor="observed-gaps",
        schema=VerdictFile,
        used_by="`buildgap fieldtest verdict`",
        example="configs/fieldtest/two-climbs.toml",
    ),
    FileKind(
        title="Plan of test runs",
        anchor="plan-of-test-runs",
        schema=RunPlanFile,
        used_by="`buildgap fieldtest runs`",
        example="configs/fieldtest/runs.toml",
    ),
)

UNITS = {
    "_per_pct": "W per percent",
    "_per_mps": "W per m/s",
    "_kgm2": "kg m²",
    "_degc": "°C",
    "_kmh": "km/h",
    "_mps": "m/s",
    "_hpa": "hPa",
    "_bar": "bar",
    "_rpm": "1/min",
    "_deg": "°",
    "_pct": "%",
    "_km": "km",
    "_kg": "kg",
    "_kj": "kJ",
    "_m2": "m²",
    "_cm2": "cm²",
    "_mm": "mm",
    "_g": "g",
    "_w": "W",
    "_n": "N",
    "_m": "m",
    "_s": "s",
    "_h": "h",
}
"""Ending of a key -> unit; the longest ending that fits holds."""

UNITS_OF_KEYS = {"braking_g": "g (9.81 m/s²)", "sd": "m²"}
"""Keys whose unit is not their ending."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of a table: what may be written and what it means."""

    table: str
    name: str
    kind: str
    unit: str
    default: str
    limits: str
    meaning: str
    inner: type[StrictSchema] | None


def keys_of(schema: type[StrictSchema], table: str = "") -> Iterator[Key]:
    """Every key of a schema and of the tables in it, in the order in which they are told."""
    inner_tables: list[tuple[type[StrictSchema], str]] = []
    for name, field in schema.model_fields.items():
        inner = _inner(field.annotation)
        is_list = _is_list(field.annotation)
        key = Key(
            table=table,
            name=name,
            kind=_kind(field.annotation, inner, is_list=is_list),
            unit="" if inner else _unit(name, field),
            default=_default(field),
            limits="" if inner else _limits(field),
            meaning=field.description or "",
            inner=inner,
        )
        yield key
        if inner is not None:
            path = f"{table}.{name}" if table else name
            inner_tables.append((inner, f"[[{path}]]" if is_list else f"[{path}]"))
    for inner, title in inner_tables:
        yield from keys_of(inner, title.strip("[]"))


def tables_of(schema: type[StrictSchema], title: str = "") -> Iterator[tuple[str, str, list[Key]]]:
    """Each table: how it is written in the file, what it is, and its keys."""
    keys = [key for key in keys_of(schema) if key.table == ""]
    yield title, " ".join((schema.__doc__ or "").split("\n\n")[0].split()), keys
    for key in keys:
        if key.inner is not None:
            bare = title.strip("[]")
            path = f"{bare}.{key.name}" if bare else key.name
            written = f"[[{path}]]" if key.kind.startswith("list") else f"[{path}]"
            yield from tables_of(key.inner, written)


_PLURALS = {"number": "numbers", "whole number": "whole numbers", "text": "texts"}


def _inner(annotation: Any) -> type[StrictSchema] | None:
    if isinstance(annotation, type) and not typing.get_origin(annotation):
        is_table = issubclass(annotation, pydantic.BaseModel) and annotation is not ValueWithSd
        return annotation if is_table else None
    for each in typing.get_args(annotation):
        found = _inner(each)
        if found is not None:
            return found
    return None


def _is_list(annotation: Any) -> bool:
    if typing.get_origin(annotation) is tuple:
        return True
    return any(
        _is_list(each)
        for each in typing.get_args(annotation)
        if typing.get_origin(annotation) in (typing.Union, types.UnionType, typing.Annotated)
    )


def _words(annotation: Any) -> list[str]:
    origin, inside = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return _words(inside[0])
    if origin in (typing.Union, types.UnionType):
        return [word for each in inside for word in _words(each)]
    if origin is typing.Literal:
        return ["one of " + ", ".join(f'`"{word}"`' for word in inside)]
    if origin is tuple:
        return ["list of " + _PLURALS.get(word, word) for word in _words(inside[0])]
    if annotation is type(None):
        return []
    if annotation is ValueWithSd:
        return ["number ±"]
    names = {float: "number", int: "whole number", str: "text", bool: "`true` or `false`"}
    return [names[annotation]]


def _kind(annotation: Any, inner: type[StrictSchema] | None, *, is_list: bool) -> str:
    if inner is not None:
        return "list of tables" if is_list else "table"
    return " or ".join(_words(annotation))


def _metadata(annotation: Any) -> Iterator[Any]:
    for each in typing.get_args(annotation):
        if typing.get_origin(annotation) is typing.Annotated and not isinstance(each, type):
            yield each
        yield from _metadata(each)


def _limits(field: FieldInfo) -> str:
    told = []
    least: Any = None
    most: Any = None
    for each in [*field.metadata, *_metadata(field.annotation)]:
        limit = getattr(each, "func", None)
        if isinstance(limit, Range):
            told.append(_plain(limit.bounds) + (f" ({limit.why})" if limit.why else ""))
        low = getattr(each, "ge", None)
        least = low if low is not None else least
        high = getattr(each, "le", None)
        most = high if high is not None else most
        above = getattr(each, "gt", None)
        if above is not None:
            told.append(f"above {above:g}")
        for more in getattr(each, "metadata", ()):
            low, high = getattr(more, "ge", None), getattr(more, "le", None)
            least, most = low if low is not None else least, high if high is not None else most
            above = getattr(more, "gt", None)
            if above is not None:
                told.append(f"above {above:g}")
    if least is not None and most is not None:
        told.append(f"from {least:g} to {most:g}")
    elif most is not None:
        told.append(f"at most {most:g}")
    elif least is not None:
        told.append(f"at least {least:g}")
    return "; ".join(dict.fromkeys(told))


def _plain(bounds: str) -> str:
    """Powers of ten written out."""
    return re.sub(
        r"\d(?:\.\d+)?e[+-]\d+", lambda m: f"{float(m[0]):,.6f}".rstrip("0").rstrip("."), bounds
    )


def _unit(name: str, field: FieldInfo) -> str:
    if not any(word in " ".join(_words(field.annotation)) for word in ("number", "numbers")):
        return ""
    if name in UNITS_OF_KEYS:
        return UNITS_OF_KEYS[name]
    stem = name.removesuffix("_change").removesuffix("_sd")
    fitting = [ending for ending in UNITS if f"_{stem}".endswith(ending)]
    return UNITS[max(fitting, key=len)] if fitting else ""


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "must be given"
    value = field.get_default(call_default_factory=True)
    if value is None or value is PydanticUndefined or value in ((), ""):
        return "none"
    if isinstance(value, ValueWithSd):
        return f"{value.value:g}" if value.sd == 0.0 else f"{value.value:g} ± {value.sd:g}"
    if isinstance(value, pydantic.BaseModel):
        return "see below"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return ", ".join(f"{each:g}" if isinstance(each, int | float) else each for each in value)
    return f"{value:g}" if isinstance(value, int | float) else f'"{value}"'
