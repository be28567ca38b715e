"""A word while kernels are compiled, which happens once on a computer and takes half a minute."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable
from typing import Any

LOOK_EVERY_S = 0.05
LOOK_FOR_S = 60.0
COMPILE = "numba:compile"
"""numba's name for the work that it does where nothing was kept from an earlier call."""

WORDS = (
    "preparing rides on this computer: up to half a minute, once after each installation or upgrade"
)


def tell_of_first_use(tell: Callable[[str], None]) -> None:
    """Say once that kernels are being compiled, if any are.

    Parameters
    ----------
    tell : callable
        Takes the sentence.

    Notes
    -----
    The compiler is loaded late or not at all, and never from here: a thread waits for it, asks it
    to be told, and ends.
    """
    threading.Thread(target=_wait_for_compiler, args=(tell,), daemon=True).start()


def _wait_for_compiler(tell: Callable[[str], None]) -> None:
    until_s = time.monotonic() + LOOK_FOR_S
    while time.monotonic() < until_s:
        events: Any = sys.modules.get("numba.core.event")
        if hasattr(events, "register") and hasattr(events, "Listener"):
            events.register(COMPILE, _once(tell, events.Listener))
            return
        time.sleep(LOOK_EVERY_S)


def _once(tell: Callable[[str], None], listener_type: type) -> object:
    told: list[str] = []

    def on_start(_listener: object, _event: object) -> None:
        if not told:
            told.append(WORDS)
            tell(WORDS)

    def on_end(_listener: object, _event: object) -> None:
        """Nothing: the answer follows."""

    return type("CompileListener", (listener_type,), {"on_start": on_start, "on_end": on_end})()
