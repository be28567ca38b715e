"""The starters room: where the shipped courses and example files are.

A wheel carries them inside this folder; in a checkout they stand beside the package. May import
nothing of the package.
"""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).resolve().parent
_ROOTS = (_HERE, _HERE.parent.parent)

KINDS = ("configs", "courses")


def starter_path(name: str) -> Path:
    """Path of a shipped file or folder.

    Parameters
    ----------
    name : str
        As in "configs/plover.toml" or "courses/harbour".

    Raises
    ------
    FileNotFoundError
        If the installation is incomplete or the name is wrong.
    """
    kind = name.partition("/")[0]
    if kind not in KINDS:
        msg = f"starters are of the kinds {KINDS}, not {kind!r}"
        raise ValueError(msg)
    for root in _ROOTS:
        path = root / name
        if path.exists():
            return path
    msg = f"this installation of buildgap lacks {name}"
    raise FileNotFoundError(msg)
