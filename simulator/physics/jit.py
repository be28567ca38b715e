"""The one decorator for compiled code: same flags everywhere, and a cache that cannot go stale.

Numba keys its cache on a function's own file, so an edit in another file that the function calls
goes unseen. Here the cache folder's name is made from the text of this whole folder: any edit,
and any upgrade, starts a fresh one.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from pathlib import Path

import numba


def _folder_key() -> str:
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _cache_root() -> Path:
    named = os.environ.get("NUMBA_CACHE_DIR")
    if named:
        return Path(named)
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", Path.home()))
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache"))
    return base / "buildgap" / "kernels"


def _cache_folder() -> str:
    folder = _cache_root() / _folder_key()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError:
        # A home that cannot be written to still gets kernels, cached for this machine's uptime.
        folder = Path(tempfile.gettempdir()) / f"buildgap-kernels-{_folder_key()}"
        folder.mkdir(parents=True, exist_ok=True)
    return str(folder)


_CACHE_FOLDER = _cache_folder()


def kernel(function=None, *, parallel=False, inline=False):
    """Compile a function with the flags of this house.

    ``error_model="numpy"`` lets divisions vectorise (the caller guards them), ``nogil`` lets
    threads run rides side by side. Of fast-math only ``contract`` is on: a product and a sum may
    become one instruction that rounds once. Nothing is reordered, nothing assumed of ``inf`` and
    NaN; on one kind of processor a kernel always gives the same bits, but two kernels (a ride
    alone, a ride in a batch) may round a last bit differently.
    ``inline`` has the compiler put the function's body where it is called, without which a loop
    over rides does not vectorise.
    """
    if function is None:
        return lambda f: kernel(f, parallel=parallel, inline=inline)
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = _CACHE_FOLDER
    try:
        return numba.njit(
            cache=True,
            error_model="numpy",
            nogil=True,
            parallel=parallel,
            fastmath={"contract"},
            forceinline=inline,
        )(function)
    finally:
        numba.config.CACHE_DIR = before
