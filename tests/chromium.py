"""A headless Chromium held by its DevTools protocol through a pair of pipes: no driver, no network, no package.

The protocol is JSON with a NUL after each message, on file descriptors 3 (to the browser) and 4 (from it).
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome")
# Puts the pipes where the protocol wants them, and becomes the browser.
_START = """
import fcntl, os, sys
ends = [fcntl.fcntl(int(end), fcntl.F_DUPFD, 10) for end in sys.argv[1:3]]
for place, end in zip((3, 4), ends):
    os.dup2(end, place)
os.execv(sys.argv[3], sys.argv[3:])
"""


def browser_path() -> str | None:
    """Return where Chromium is, by CHROMIUM or by its usual names; None where there is none."""
    return os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)


class Chromium:
    """A running browser; ``events`` are the messages that answered nothing."""

    def __init__(self, to_browser: int, from_browser: int) -> None:
        self._to, self._from = to_browser, from_browser
        self._held = b""
        self._number = 0
        self.events: list[dict[str, Any]] = []

    def call(self, method: str, session: str | None = None, **parameters: Any) -> dict[str, Any]:
        """Call a method and return its result."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        os.write(self._to, json.dumps(message | ({"sessionId": session} if session else {})).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                return dict(answer["result"])
            self.events.append(answer)

    def wait_for(self, event: str) -> None:
        """Wait until an event comes in."""
        while all(e.get("method") != event for e in self.events):
            self.events.append(self._next())

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._held:
            got = os.read(self._from, 1 << 16)
            assert got, "the browser ended"
            self._held += got
        message, self._held = self._held.split(b"\0", 1)
        return dict(json.loads(message))


class Tab:
    """One page as it is shown: what it wrote on its console, what it asked for, and what it measures."""

    def __init__(self, browser: Chromium, page: Path, width: int, theme: str) -> None:
        self._browser = browser
        browser.events.clear()
        self._target = browser.call("Target.createTarget", url="about:blank")["targetId"]
        attached = browser.call("Target.attachToTarget", targetId=self._target, flatten=True)
        self._session = str(attached["sessionId"])
        for domain in ("Page", "Network", "Log", "Runtime"):
            self._call(f"{domain}.enable")
        self._call("Emulation.setDeviceMetricsOverride", width=width, height=800, deviceScaleFactor=1,
                   mobile=width < 500)
        self._call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": theme}])
        self.url = page.as_uri()
        self._call("Page.navigate", url=self.url)
        browser.wait_for("Page.loadEventFired")

    def _call(self, method: str, **parameters: Any) -> dict[str, Any]:
        return self._browser.call(method, self._session, **parameters)

    def value(self, expression: str) -> Any:
        """Return what an expression comes to on the page."""
        found = self._call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def run(self, script: str) -> None:
        """Load the page again without its own rules for scripts, and run a script beside it."""
        self._call("Page.setBypassCSP", enabled=True)
        self._browser.events.clear()
        self._call("Page.reload")
        self._browser.wait_for("Page.loadEventFired")
        self._call("Runtime.evaluate", expression=script)

    def picture(self) -> bytes:
        """Return the whole page as a PNG."""
        return base64.b64decode(self._call("Page.captureScreenshot", captureBeyondViewport=True)["data"])

    def pdf(self) -> bytes:
        """Print the page."""
        return base64.b64decode(self._call("Page.printToPDF", printBackground=True)["data"])

    def close(self) -> None:
        """Close the page."""
        self._browser.call("Target.closeTarget", targetId=self._target)

    @property
    def requests(self) -> list[str]:
        """What the page asked for besides itself and what it holds."""
        urls = [e["params"]["request"]["url"] for e in self._browser.events
                if e.get("method") == "Network.requestWillBeSent"]
        return [u for u in urls if u != self.url and not u.startswith("data:")]

    @property
    def complaints(self) -> list[str]:
        """What stands on the console, and what failed to load."""
        told = ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Network.loadingFailed")
        return [json.dumps(e["params"]) for e in self._browser.events if e.get("method") in told]


@contextmanager
def chromium(profile: Path) -> Iterator[Chromium]:
    """Run a browser with a profile of its own."""
    path = browser_path()
    assert path is not None
    theirs_in, ours_out = os.pipe()
    ours_in, theirs_out = os.pipe()
    process = subprocess.Popen(
        [sys.executable, "-I", "-c", _START, str(theirs_in), str(theirs_out), path,
         "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
         "--disable-background-networking", "--disable-extensions", "--remote-debugging-pipe",
         f"--user-data-dir={profile}", "about:blank"],
        pass_fds=(theirs_in, theirs_out), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(theirs_in)
    os.close(theirs_out)
    try:
        browser = Chromium(ours_out, ours_in)
        yield browser
        browser.call("Browser.close")
    finally:
        os.close(ours_out)
        os.close(ours_in)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
