"""Names of files that stand in a file: where they may point, and where not.

A course folder may come from a stranger. It reads nothing outside itself, but for a folder of
elevation tiles beside it (``tiles = "../tiles"``), which several courses share.
"""

from __future__ import annotations

import re
from pathlib import Path

from simulator.errors import InputError

_WINDOWS_ROOT = re.compile(r"^[A-Za-z]:|^[\\/]")
_PARTS = re.compile(r"[\\/]+")


def path_inside(folder: Path, name: str, *, file: str, key: str, or_beside: bool = False) -> Path:
    """Path of a file that another file names, refused if it leads out of a folder.

    Parameters
    ----------
    folder : Path
        The folder that may not be left, where the naming file lies.
    name : str
        What is written.
    file, key : str
        The naming file and its key, for the message.
    or_beside : bool
        Whether a folder right beside `folder` will do, too.

    Returns
    -------
    Path
        `folder` and `name` joined; nothing need be there.

    Raises
    ------
    InputError
        If the name is empty or absolute, climbs out of the folder, or is a link that leads out.
    """
    place = f"key `{key}`"
    allowed = f"a name inside the folder {folder}" if str(folder) != "." else "a name beside it"
    allowed += ', or "../NAME" for a folder beside it' if or_beside else ""
    mend = "copy what it names to there"
    parts = [part for part in _PARTS.split(name) if part not in ("", ".")]
    if not name.strip() or "\x00" in name:
        raise InputError(file=file, place=place, found="no usable name", expected=allowed)
    if _WINDOWS_ROOT.match(name):
        found = f"the absolute path {name[:80]!r}"
        raise InputError(file=file, place=place, found=found, expected=allowed, mend=mend)
    depth = 0
    for part in parts:
        depth += -1 if part == ".." else 1
        if depth < -1 or (depth < 0 and not or_beside):
            found = f"{name[:80]!r}, which leads out of the folder"
            raise InputError(file=file, place=place, found=found, expected=allowed, mend=mend)
    path = folder / name
    home = folder.resolve()
    try:
        real = path.resolve()
    except (OSError, RuntimeError):
        found = f"{name[:80]!r}, a link that leads nowhere"
        raise InputError(file=file, place=place, found=found, expected=allowed) from None
    is_beside = or_beside and home.parent in real.parents
    if real != home and home not in real.parents and not is_beside:
        found = f"{name[:80]!r}, a link that leads out of the folder"
        raise InputError(file=file, place=place, found=found, expected=allowed, mend=mend)
    return path


def refuse_links_out(folder: Path, pattern: str) -> None:
    """Refuse files of a folder that are links to elsewhere.

    Parameters
    ----------
    folder : Path
        Where to look; need not be there.
    pattern : str
        Which names, as in "*.hgt*".

    Raises
    ------
    InputError
        If one of them lies, in truth, outside the folder.
    """
    home = folder.resolve()
    for path in sorted(folder.glob(pattern)) if folder.is_dir() else ():
        if path.is_symlink() and home not in path.resolve().parents:
            raise InputError(
                file=str(path),
                found="a link that leads out of the folder",
                expected="a file",
                mend="name the folder of the tiles yourself, with `--tiles`",
            )
