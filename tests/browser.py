"""A browser without a window, spoken to through its pipe of the Chrome DevTools Protocol."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser")
"""Commands of the browser, as Debian and others name it."""
_WAIT_S = 60.0


def command() -> str | None:
    """Give the browser of this machine, if there is one."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Browser:
    """One page in a browser; notes what it asks for and what its console says.

    Parameters
    ----------
    folder : Path
        Folder for the profile of the browser.
    """

    def __init__(self, folder: Path) -> None:
        found = command()
        assert found is not None
        to_browser, self._out = os.pipe()
        self._in, from_browser = os.pipe()
        started = [
            "bash", "-c", f'exec "$0" "$@" 3<&{to_browser} 4>&{from_browser}', found,
            "--headless=new", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe",
            "--no-first-run", "--disable-component-update", f"--user-data-dir={folder}",
            "about:blank",
        ]  # fmt: skip
        self._process = subprocess.Popen(
            started, pass_fds=(to_browser, from_browser),
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(to_browser)
        os.close(from_browser)
        self._buffer = b""
        self._last = 0
        self._session: str | None = None
        self.events: list[dict[str, Any]] = []
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        attached = self.ask("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.ask(f"{domain}.enable")

    def ask(self, method: str, **values: object) -> dict[str, Any]:
        """Send a command and wait for its answer; what happens in between is kept."""
        self._last += 1
        message: dict[str, Any] = {"id": self._last, "method": method, "params": values}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        end = time.monotonic() + _WAIT_S
        while (answer := self._next(end)).get("id") != self._last:
            self.events.append(answer)
        if "error" in answer:
            raise RuntimeError(f"{method}: {answer['error']}")
        given: dict[str, Any] = answer["result"]
        return given

    def _next(self, end: float) -> dict[str, Any]:
        """Give the next message of the browser."""
        while b"\0" not in self._buffer:
            if time.monotonic() > end:
                raise TimeoutError("the browser does not answer")
            more = os.read(self._in, 1 << 20)
            if not more:
                raise RuntimeError("the browser has ended")
            self._buffer += more
        text, _, self._buffer = self._buffer.partition(b"\0")
        message: dict[str, Any] = json.loads(text)
        return message

    def open(self, path: Path, *, width: int, scripts: bool = True) -> None:
        """Open a file at a width of the window and wait until it has loaded."""
        self.events.clear()
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=900, deviceScaleFactor=1, mobile=width < 600,
        )  # fmt: skip
        self.ask("Emulation.setScriptExecutionDisabled", value=not scripts)
        self.ask("Page.navigate", url=path.as_uri())
        end = time.monotonic() + _WAIT_S
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next(end))

    def value(self, script: str) -> Any:  # whatever the script gives
        """Run a script in the page, as a debugger does, and give its value."""
        done = self.ask("Runtime.evaluate", expression=script, returnByValue=True)
        if "exceptionDetails" in done:
            raise RuntimeError(done["exceptionDetails"])
        return done["result"].get("value")

    def requested(self) -> list[str]:
        """Every address that the page asked for; those of its own bytes (data:) left out."""
        asked = [
            event["params"]["request"]["url"]
            for event in self.events
            if event.get("method") == "Network.requestWillBeSent"
        ]
        return [url for url in asked if url.partition(":")[0] != "data"]

    def complaints(self) -> list[dict[str, Any]]:
        """Errors and refusals that the console shows."""
        kinds = ("Runtime.exceptionThrown", "Log.entryAdded", "Runtime.consoleAPICalled")
        return [event["params"] for event in self.events if event.get("method") in kinds]

    def close(self) -> None:
        """End the browser."""
        os.write(self._out, json.dumps({"id": 0, "method": "Browser.close"}).encode() + b"\0")
        try:
            self._process.wait(20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        os.close(self._out)
        os.close(self._in)
