"""A real browser without a window, driven over its own debugging protocol.

Source of the messages: Chrome DevTools Protocol, domains Page, Runtime, Network, Input and Emulation.
"""

import base64
import json
import shutil
import subprocess
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    *(
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--hide-scrollbars",
    ),
    *(
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-extensions",
    ),
    *("--disable-dev-shm-usage", "--remote-debugging-port=0", "--remote-allow-origins=*", "--mute-audio"),
)
WITH_3D = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader")
WITHOUT_3D = ("--disable-3d-apis",)
PATIENCE_S = 120.0


@dataclass(kw_only=True)
class Browser:
    """One page of a running browser."""

    socket: Any
    count: int = 0
    events: list[dict[str, Any]] = field(default_factory=list)

    def call(self, method: str, **values: Any) -> dict[str, Any]:
        """Send one command and wait for its answer; what comes in between is kept."""
        self.count += 1
        self.socket.send(json.dumps({"id": self.count, "method": method, "params": values}))
        while True:
            message = json.loads(self.socket.recv())
            if message.get("id") == self.count:
                assert "error" not in message, message
                return message["result"]
            self.events.append(message)

    def run(self, code: str) -> Any:
        """The value of an expression in the page."""
        found = self.call("Runtime.evaluate", expression=code, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def open(self, path: Path, *, size: tuple[int, int] = (1280, 800), **features: str) -> None:
        """Open a file in a window of a size, with media features such as ``prefers_color_scheme``."""
        media = [{"name": key.replace("_", "-"), "value": value} for key, value in features.items()]
        self.call("Emulation.setEmulatedMedia", features=media)
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=size[0],
            height=size[1],
            deviceScaleFactor=1,
            mobile=False,
        )
        self.events.clear()
        self.call("Page.navigate", url=path.resolve().as_uri())
        end = time.monotonic() + PATIENCE_S
        while self.run("document.readyState") != "complete" or self.run("location.href") == "about:blank":
            assert time.monotonic() < end, "the page does not come up"
            time.sleep(0.05)
        self.settle()

    def settle(self) -> None:
        """Wait until what was asked for is drawn."""
        drawn = "requestAnimationFrame(() => requestAnimationFrame(done))"
        self.run(f"new Promise((done) => setTimeout(() => {drawn}, 250))")

    def click(self, x: float, y: float) -> None:
        """Press and release the left button."""
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)
        self.settle()

    def press(self, key: str, shift: bool = False) -> None:
        """Press one key."""
        for kind in ("keyDown", "keyUp"):
            text = {"text": key} if len(key) == 1 and kind == "keyDown" else {}
            self.call("Input.dispatchKeyEvent", type=kind, key=key, modifiers=8 if shift else 0, **text)
        self.settle()

    def picture(self) -> bytes:
        """What is seen, as PNG."""
        return base64.b64decode(self.call("Page.captureScreenshot", format="png")["data"])

    def said(self, method: str) -> list[dict[str, Any]]:
        """Events of one kind since the page was opened."""
        return [event["params"] for event in self.events if event.get("method") == method]


def start(flags: tuple[str, ...]) -> Iterator[Browser]:
    """Start a browser; skips where there is none."""
    websocket = pytest.importorskip("websocket", reason="the browser is driven with websocket-client")
    program = next((found for name in NAMES if (found := shutil.which(name))), None)
    if program is None:
        pytest.skip(f"no browser on this machine: none of {', '.join(NAMES)}")
    with tempfile.TemporaryDirectory(prefix="page-", ignore_cleanup_errors=True) as home:
        process = subprocess.Popen(
            [program, *FLAGS, *flags, f"--user-data-dir={home}", "about:blank"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            browser = attached(websocket, Path(home) / "DevToolsActivePort", process)
            yield browser
            browser.socket.close()
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait(20)


def attached(websocket: Any, port_file: Path, process: "subprocess.Popen[bytes]") -> Browser:
    """The browser's first page, once it listens."""
    end = time.monotonic() + PATIENCE_S
    while not (port_file.is_file() and port_file.read_text(encoding="ascii").strip()):
        assert process.poll() is None, "the browser ended by itself"
        assert time.monotonic() < end, "the browser does not come up"
        time.sleep(0.1)
    port = port_file.read_text(encoding="ascii").split()[0]
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/json/list", timeout=30) as answer:
        (page, *_) = [each for each in json.load(answer) if each["type"] == "page"]
    browser = Browser(socket=websocket.create_connection(page["webSocketDebuggerUrl"], timeout=PATIENCE_S))
    for domain in ("Page", "Runtime", "Network", "Log"):
        browser.call(f"{domain}.enable")
    return browser


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A browser that draws in 3D by software."""
    yield from start(WITH_3D)


@pytest.fixture(scope="session")
def browser_without_3d() -> Iterator[Browser]:
    """A browser that refuses to draw in 3D."""
    yield from start(WITHOUT_3D)
