"""Writing files: under a temporary name first, then renamed; nothing overwritten unasked."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePath

from simulator.errors import InputError


def refuse_existing(paths: Iterable[Path], *, overwrite: bool = False) -> None:
    """Complain before the work starts about results that could not be written after it.

    Parameters
    ----------
    paths : iterable of Path
        Files that will be written.
    overwrite : bool
        Whether files that exist may be replaced.

    Raises
    ------
    InputError
        If one exists and `overwrite` is false, if one is a folder, or would lie in a file.
    """
    for path in paths:
        try:
            is_folder, is_there = path.is_dir(), path.exists() or path.is_symlink()
            above = next(parent for parent in path.absolute().parents if parent.exists())
            in_file = not above.is_dir()
        except (OSError, ValueError) as error:
            raise _cannot_write(path, error) from None
        if in_file:
            raise InputError(
                file=str(_as_written(path, above)),
                found="this is a file, not a folder",
                expected="a folder, or a name that is free",
                mend="choose another folder or name",
            )
        if is_folder:
            raise InputError(
                file=str(path),
                found="there is a folder of this name",
                expected="a name for a file",
                mend="choose another name",
            )
        if is_there and not overwrite:
            raise InputError(
                file=str(path),
                found="the file exists already and is left as it is",
                mend="choose another name, or say `--overwrite` to replace it",
            )


def write_bytes(path: Path, data: bytes, *, overwrite: bool = False) -> None:
    """Write a file as a whole or not at all; folders above it are made.

    Parameters
    ----------
    path : Path
        Where to.
    data : bytes
        What.
    overwrite : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    InputError
        If the file exists and `overwrite` is false, or if the place cannot be written.
    """
    refuse_existing([path], overwrite=overwrite)
    target = path.resolve() if path.is_symlink() else path
    temporary = target.with_name(f".{target.name[:60]}.{secrets.token_hex(6)}.tmp")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            with temporary.open("xb") as stream:
                stream.write(data)
            refuse_existing([path], overwrite=overwrite)
            os.replace(temporary, target)  # noqa: PTH105 - the one call whose atomicity is meant
        finally:
            temporary.unlink(missing_ok=True)
    except (OSError, ValueError) as error:
        raise _cannot_write(path, error) from None


def write_text(path: Path, text: str, *, overwrite: bool = False) -> None:
    """Write UTF-8 text with plain line ends as a whole or not at all; see `write_bytes`.

    Parameters
    ----------
    path : Path
        Where to.
    text : str
        What.
    overwrite : bool
        Whether a file that exists may be replaced.

    Raises
    ------
    InputError
        If the file exists and `overwrite` is false, or if the place cannot be written.
    """
    write_bytes(path, text.encode("utf-8"), overwrite=overwrite)


def write_files(folder: Path, files: Mapping[str, bytes], *, overwrite: bool = False) -> None:
    """Write several files into a folder, each as a whole or not at all; see `write_bytes`.

    Parameters
    ----------
    folder : Path
        Where to.
    files : mapping
        Name of each file -> what it holds.
    overwrite : bool
        Whether files that exist may be replaced.

    Raises
    ------
    InputError
        If one exists and `overwrite` is false (then none is written), or if the place cannot be
        written.
    ValueError
        If a name leads out of the folder: names from files are no names of files.
    """
    for name in files:
        if PurePath(name).is_absolute() or ".." in PurePath(name).parts:
            msg = f"{name!r} leads out of the folder"
            raise ValueError(msg)
    refuse_existing([folder / name for name in files], overwrite=overwrite)
    for name, data in files.items():
        write_bytes(folder / name, data, overwrite=overwrite)


def _as_written(path: Path, above: Path) -> Path:
    """The folder above a path, named as the path names it."""
    return next((parent for parent in path.parents if parent.absolute() == above), above)


def _cannot_write(path: Path, error: OSError | ValueError) -> InputError:
    reason = getattr(error, "strerror", None) or str(error)
    return InputError(
        file=str(path),
        found=f"the file cannot be written ({reason.lower()})",
        mend="choose another folder or name",
    )
