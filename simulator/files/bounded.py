"""Bytes of a file that somebody else wrote: read within a limit, whatever the file says it is."""

from __future__ import annotations

import difflib
from pathlib import Path

from simulator.errors import InputError


def read_bytes(path: Path, *, max_bytes: int, expected: str, empty_mend: str = "") -> bytes:
    """Read a file whose size is bounded.

    Parameters
    ----------
    path : Path
        File to read; it is named in errors as it stands here.
    max_bytes : int
        Largest accepted size. Never more than this is read, even of a pipe or a device, which
        tell no size.
    expected : str
        What the file should be, for the messages.
    empty_mend : str
        What to do about an empty file.

    Raises
    ------
    InputError
        If it is missing, a folder, unreadable, empty or too large.
    """
    file = str(path)
    try:
        if path.is_dir():
            raise InputError(
                file=file,
                found="this is a folder",
                expected=expected,
                mend="name a file inside it",
            )
        with path.open("rb") as stream:
            data = stream.read(max_bytes + 1)
    except FileNotFoundError:
        raise InputError(
            file=file, found="there is no such file", mend=_similar_file(path)
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(file=file, found=f"the file cannot be read ({reason.lower()})") from None
    if len(data) > max_bytes:
        raise InputError(
            file=file,
            found=f"the file is larger than {max_bytes / 1e6:g} MB",
            expected=expected,
            mend="is it the right file?",
        )
    if not data.strip():
        raise InputError(file=file, found="the file is empty", expected=expected, mend=empty_mend)
    return data


def _similar_file(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    except OSError:
        return "its folder does not exist either; check the path"
    close = difflib.get_close_matches(path.name, names, n=1)
    return f"did you mean `{path.with_name(close[0])}`?" if close else ""
