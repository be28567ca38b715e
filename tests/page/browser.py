"""A real Chromium driven over its debugging pipe: open a page, press, move, ask, watch.

No package is needed: the browser reads and writes JSON messages, each ended by a zero byte, on
file descriptors 3 and 4.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --hide-scrollbars "
    "--disable-background-networking --disable-component-update --disable-sync "
    "--disable-extensions --disable-default-apps --mute-audio --remote-debugging-pipe"
)
PATIENCE_S = 30.0


def find_chromium() -> str | None:
    """Path of a Chromium on this machine, if there is one."""
    return next((path for path in map(shutil.which, NAMES) if path), None)


class Browser:
    """One browser with one page; use as a context manager."""

    def __init__(self, program: str) -> None:
        self.profile = tempfile.mkdtemp()
        to_read, self.to_browser = os.pipe()
        self.from_browser, to_write = os.pipe()
        command = [program, *FLAGS.split(), f"--user-data-dir={self.profile}", "about:blank"]
        shell = f'exec "$@" 3<&{to_read} 4>&{to_write}'
        self.process = subprocess.Popen(
            ["bash", "-c", shell, "browser", *command],
            pass_fds=(to_read, to_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self.buffer = b""
        self.number = 0
        self.session: str | None = None
        self.events: list[dict] = []

    def __enter__(self) -> Browser:
        targets = self.call("Target.getTargets")["targetInfos"]
        page = next(target for target in targets if target["type"] == "page")
        attached = self.call("Target.attachToTarget", targetId=page["targetId"], flatten=True)
        self.session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")
        return self

    def __exit__(self, *_: object) -> None:
        with contextlib.suppress(OSError, RuntimeError):
            self.session = None
            self.call("Browser.close")
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        os.close(self.to_browser)
        os.close(self.from_browser)
        shutil.rmtree(self.profile, ignore_errors=True)

    def call(self, method: str, **params: object) -> dict:
        """Send one command and wait for its answer."""
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.to_browser, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + PATIENCE_S
        while True:
            answer = self._next(until)
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]
            self.events.append(answer)

    def _next(self, until: float) -> dict:
        while b"\0" not in self.buffer:
            ready, _, _ = select.select([self.from_browser], [], [], until - time.monotonic())
            data = os.read(self.from_browser, 1 << 20) if ready else b""
            if not data:
                raise RuntimeError("the browser does not answer")
            self.buffer += data
        text, _, self.buffer = self.buffer.partition(b"\0")
        return json.loads(text)

    def open(self, path: Path, *, width: int, height: int = 900, is_phone: bool = False) -> None:
        """Open a file at a window size and wait until it has loaded."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=is_phone,
        )
        self.call("Emulation.setTouchEmulationEnabled", enabled=is_phone)
        self.events.clear()
        self.call("Page.navigate", url=path.resolve().as_uri())
        until = time.monotonic() + PATIENCE_S
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events):
            self.events.append(self._next(until))

    def ask(self, script: str) -> object:
        """Value of a JavaScript expression."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"]["exception"]["description"])
        return answer["result"].get("value")

    def press(self, key: str, modifiers: int = 0) -> None:
        """Press a key as a keyboard does."""
        for kind in ("rawKeyDown", "keyUp"):
            code = {"Tab": 9, "Enter": 13, " ": 32}.get(key, 0)
            self.call(
                "Input.dispatchKeyEvent",
                type=kind,
                key=key,
                code=key,
                windowsVirtualKeyCode=code,
                modifiers=modifiers,
            )

    def mouse(self, kind: str, x: float, y: float) -> None:
        """Move the mouse or press its button."""
        self.call(
            "Input.dispatchMouseEvent",
            type=kind,
            x=x,
            y=y,
            button="none" if kind == "mouseMoved" else "left",
            clickCount=0 if kind == "mouseMoved" else 1,
        )

    def touch(self, kind: str, x: float = 0.0, y: float = 0.0) -> None:
        """Touch the screen."""
        points = [] if kind == "touchEnd" else [{"x": x, "y": y}]
        self.call("Input.dispatchTouchEvent", type=kind, touchPoints=points)

    def requests(self) -> list[str]:
        """Addresses asked for since the page was opened."""
        sent = [e for e in self.events if e.get("method") == "Network.requestWillBeSent"]
        return [e["params"]["request"]["url"] for e in sent]

    def complaints(self) -> list[str]:
        """Errors and warnings of the console since the page was opened."""
        found = []
        for event in self.events:
            method, params = event.get("method"), event.get("params", {})
            if method == "Runtime.exceptionThrown":
                found.append(str(params["exceptionDetails"].get("text")))
            if method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning"):
                found.append(str(params["args"]))
            if method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
                found.append(params["entry"]["text"])
        return found

    def picture(self, path: Path, *, is_whole: bool = True) -> None:
        """Write a PNG of the page."""
        size = self.call("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        extra = {"clip": clip, "captureBeyondViewport": True} if is_whole else {}
        data = self.call("Page.captureScreenshot", format="png", **extra)["data"]
        path.write_bytes(base64.b64decode(data))
