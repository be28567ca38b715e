"""TOML -> frozen objects: types, ranges, unknown keys; every problem told with its line.

A schema is a `StrictSchema` whose fields carry a ``description``; it is shown when the key is
missing. Lists are tuples in a schema (``tuple[float, ...]``). Ranges are told by `in_range`, with
the reason; whatever concerns several keys at once by `problem` in a model validator.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, TypeVar

import pydantic
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from simulator.errors import InputError, InputErrors
from simulator.files.complaints import advice_for_number, describe_value, input_error_of
from simulator.files.toml_places import KeyPath, key_lines
from simulator.files.toml_text import parse_toml, read_text

MAX_TOLD = 20  # sentences about one file
MAX_SORTED = 200  # problems among which the first ones are looked for


class StrictSchema(BaseModel):
    """Base of every schema: no unknown keys, no conversions, finite numbers, frozen.

    A whole number is accepted where a decimal one is expected; ``true`` is not a number and text
    is never read as a number.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class ValueWithSd(StrictSchema):
    """A number and its standard uncertainty, in the unit of the key; 0 means "exact"."""

    value: float = Field(description="the value itself")
    sd: float = Field(default=0.0, ge=0.0, description="standard uncertainty of the value")


def _table_from_number(written: object) -> object:
    if isinstance(written, int | float) and not isinstance(written, bool):
        return {"value": written}
    if isinstance(written, dict | ValueWithSd):
        return written
    raise problem(
        found=f"found {describe_value(written)}",
        expected="a number, or { value = 1.0, sd = 0.1 }",
        mend=advice_for_number(written),
    )


UncertainField = Annotated[ValueWithSd, BeforeValidator(_table_from_number)]
"""A key written as ``0.0042`` or as ``{ value = 0.0042, sd = 0.0003 }``."""

SchemaT = TypeVar("SchemaT", bound=StrictSchema)
ValueT = TypeVar("ValueT")


def problem(
    *, found: str, expected: str = "", mend: str = "", key: str = ""
) -> PydanticCustomError:
    """What a validator of a schema raises; it becomes an `InputError` at the right line.

    Parameters
    ----------
    found, expected, mend : str
        As in `InputError`.
    key : str
        The key meant, for a validator of a whole table.
    """
    return PydanticCustomError(
        "problem",
        "{found}",
        {"found": found, "expected": expected, "mend": mend, "key": key},
    )


def in_range(low: float, high: float, *, why: str = "", open_low: bool = False) -> AfterValidator:
    """Limits of a number, of an `UncertainField`, or of each number in a tuple.

    Use it inside ``Annotated[float, in_range(0.1, 1.0, why="...")]``.

    Parameters
    ----------
    low, high : float
        Limits, accepted themselves unless `open_low`.
    why : str
        What the limits come from, shown to the user.
    open_low : bool
        Whether `low` itself is refused.
    """
    return AfterValidator(Range(low=low, high=high, why=why, open_low=open_low))


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Limits of a number; called by the check of a file, read by the reference of its keys."""

    low: float
    high: float
    why: str = ""
    open_low: bool = False

    @property
    def bounds(self) -> str:
        """The limits in words."""
        low, high = _plain(self.low), _plain(self.high)
        return f"above {low} and at most {high}" if self.open_low else f"from {low} to {high}"

    def __call__(self, value: ValueT) -> ValueT:
        """Give the value back, or raise a `problem`."""
        numbers: tuple[Any, ...] = value if isinstance(value, tuple) else (value,)
        for number in numbers:
            if number is None:
                continue
            size = number.value if isinstance(number, ValueWithSd) else number
            if size < self.low or size > self.high or (self.open_low and size == self.low):
                expected = f"a number {self.bounds}" + (f" ({self.why})" if self.why else "")
                raise problem(found=f"found {size:g}", expected=expected)
            most_sd = 0.5 * (self.high - self.low)
            if isinstance(number, ValueWithSd) and number.sd > most_sd:
                raise problem(
                    found=f"found the standard uncertainty {number.sd:g}",
                    expected=f"at most {most_sd:g}, half the range of the value",
                    mend="give it in the unit of the value, not in percent",
                )
        return value


def _plain(number: float) -> str:
    """A limit without powers of ten."""
    text = f"{number:g}"
    return f"{number:,.6f}".rstrip("0").rstrip(".") if "e" in text else text


def read_toml(path: Path, schema: type[SchemaT]) -> SchemaT:
    """Read a TOML file into a frozen object.

    Parameters
    ----------
    path : Path
        The file; errors name it as it stands here.
    schema : type
        A `StrictSchema`.

    Returns
    -------
    StrictSchema
        An instance of `schema`.

    Raises
    ------
    InputError
        If the file is missing, a folder, empty, too large, not UTF-8 or not TOML, or if keys are
        unknown, missing, of the wrong type or out of range (all of these told at once).
    """
    return check_toml(read_text(path), schema, file=str(path))


def load_toml(path: Path) -> dict[str, object]:
    """Read a TOML file without a schema, to see what kind of file it is.

    Raises
    ------
    InputError
        If the file cannot be read or is not TOML.
    """
    return parse_toml(read_text(path), file=str(path))


def check_toml(text: str, schema: type[SchemaT], *, file: str) -> SchemaT:
    """Check TOML text against a schema; see `read_toml`.

    Parameters
    ----------
    text : str
        The TOML.
    schema : type
        A `StrictSchema`.
    file : str
        Name used in errors.

    Raises
    ------
    InputError
        If anything is wrong with it.
    """
    return _checked(parse_toml(text, file=file), schema, file, lambda: key_lines(text))


def check_keys(keys: Mapping[str, object], schema: type[SchemaT], *, file: str) -> SchemaT:
    """Check keys that stand in no file against a schema; see `read_toml`.

    Parameters
    ----------
    keys : mapping
        As a TOML file would hold them.
    schema : type
        A `StrictSchema`.
    file : str
        What errors name instead of a file.

    Raises
    ------
    InputError
        If anything is wrong with it.
    """
    return _checked(keys, schema, file, dict)


def _checked(
    data: Mapping[str, object],
    schema: type[SchemaT],
    file: str,
    lines_of: Callable[[], Mapping[KeyPath, int]],
) -> SchemaT:
    try:
        return schema.model_validate(_tuples(data))
    except pydantic.ValidationError as failure:
        lines = lines_of()
        found = failure.errors()
    # A list is called too short as well where one of its entries is wrong: the entry is the cause.
    inside = {each["loc"][:k] for each in found for k in range(len(each["loc"]))}
    found = [e for e in found if e["type"] != "too_short" or e["loc"] not in inside]
    told = [input_error_of(error, schema, data, lines, file) for error in found[:MAX_SORTED]]
    told.sort(key=lambda item: item[0])
    problems = _merged([error for _, error in told])[:MAX_TOLD]
    if len(found) > MAX_TOLD:
        more = f"{len(found) - MAX_TOLD} more problems"
        problems.append(InputError(file=file, found=more, mend="mend these first"))
    raise problems[0] if len(problems) == 1 else InputErrors(problems)


def _merged(problems: list[InputError]) -> list[InputError]:
    """One sentence where a key may be of two kinds and what was written is neither."""
    merged: list[InputError] = []
    for each in problems:
        last = merged[-1] if merged else None
        if last and (last.place, last.found) == (each.place, each.found) and each.expected:
            merged[-1] = InputError(
                file=each.file,
                place=each.place,
                found=each.found,
                expected=f"{last.expected} or {each.expected}",
                mend=last.mend or each.mend,
            )
        else:
            merged.append(each)
    return merged


def _tuples(data: object) -> object:
    """The same data with tuples for lists: a frozen object must not hold a list."""
    if isinstance(data, Mapping):
        return {key: _tuples(value) for key, value in data.items()}
    if isinstance(data, list):
        return tuple(_tuples(item) for item in data)
    # Numbers of numpy, which only Python can give, become plain ones.
    plain = getattr(data, "tolist", None)
    return data if plain is None else _tuples(plain())
