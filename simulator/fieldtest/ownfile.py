"""Files of the three commands, and the sentence for a file that belongs to another one."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

from simulator.errors import InputError
from simulator.files import StrictSchema, load_toml, read_toml

SchemaT = TypeVar("SchemaT", bound=StrictSchema)

KINDS = {
    "infer": ("a test day", "run"),
    "verdict": ("a verdict's file", "climb"),
    "runs": ("a plan of runs", "option"),
}
"""Command -> what its file is called, and the table that only such a file has."""


def read_own(path: Path, schema: type[SchemaT], command: str) -> SchemaT:
    """Read the file of a command.

    Parameters
    ----------
    path : Path
        A TOML file.
    schema : type
        Of the file.
    command : str
        One of `KINDS`.

    Raises
    ------
    InputError
        If it is wrong; one sentence if it is a file of another kind altogether.
    """
    name, own = KINDS[command]
    keys = load_toml(path)
    if own not in keys:
        for other, (what, mark) in KINDS.items():
            if mark in keys and other != command:
                raise InputError(
                    file=str(path),
                    found=f"this is {what}",
                    expected=name,
                    mend=f"`buildgap fieldtest {other}` reads it",
                )
        # A file with hardly a key of this kind is of another one; a forgotten table is told below.
        if keys and len(set(keys) & set(schema.model_fields)) * 2 <= len(keys):
            raise InputError(
                file=str(path),
                found="a file of another kind",
                expected=f"{name} with `[[{own}]]`",
                mend="`buildgap new FOLDER --for fieldtest` writes an example",
            )
    return read_toml(path, schema)
