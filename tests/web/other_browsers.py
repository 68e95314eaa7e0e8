"""Two more engines for tests, each with a microphone that is none.

Firefox is spoken to by WebDriver BiDi, WebKitGTK by WebDriver (both W3C); what a page holds is
asked by a line of script, so no library is needed. Where one is not installed its test is skipped.
"""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import signal
import socket
import struct
import subprocess
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from itertools import count
from pathlib import Path
from time import monotonic, sleep
from typing import Any, Protocol

import httpx2
import pytest

PATIENCE_S = 60.0
"""A loaded machine is waited for so long."""


class Engine(Protocol):
    """A page of a browser that a script can be run in."""

    def goto(self, address: str) -> None:
        """Open an address, and wait until it is there."""

    def run(self, script: str) -> Any:
        """What an expression is, or what its promise comes to."""

    def press(self, script: str) -> None:
        """Press an element, as a hand does."""

    def resize(self, size: Mapping[str, int]) -> None:
        """Give the page a width and a height, in CSS pixels."""


def waited(engine: Engine, script: str) -> None:
    """Wait until an expression is true.

    Raises
    ------
    AssertionError
        When it never is.
    """
    patient_until = monotonic() + PATIENCE_S
    while monotonic() < patient_until:
        try:
            if engine.run(f"Boolean({script})"):
                return
        except ScriptFault:
            pass  # the page changed meanwhile
        sleep(0.1)
    raise AssertionError(f"never true: {script}\n{engine.run('document.body.innerText')}")


class ScriptFault(Exception):
    """What a script in a page failed with."""


# Firefox


FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
_PREFERENCES = {
    "media.navigator.streams.fake": True,
    "media.navigator.permission.disabled": True,
    "media.autoplay.default": 0,
    "media.autoplay.blocking_policy": 0,
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "datareporting.policy.dataSubmissionEnabled": False,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "toolkit.telemetry.reportingpolicy.firstRun": False,
}


@contextmanager
def firefox(folder: Path, sound: Mapping[str, str] | None = None) -> Iterator[Engine]:
    """Firefox with a microphone that hums, or the sound of an environment; skipped without."""
    if FIREFOX is None:
        pytest.skip("Firefox is not installed")
    folder.mkdir()
    preferences = _PREFERENCES | {"media.navigator.streams.fake": sound is None}
    lines = (f"user_pref({json.dumps(name)}, {json.dumps(v)});" for name, v in preferences.items())
    folder.joinpath("user.js").write_text("\n".join(lines))
    command = [FIREFOX, "--headless", "--no-remote", "--remote-debugging-port=0"]
    command += ["--profile", str(folder)]
    told = folder / "told.txt"
    place = _quiet_sound(folder) if sound is None else nullcontext(dict(sound))
    with place as environment, _process(command, environment, told):
        port = _told_port(told, r"ws://127\.0\.0\.1:([0-9]+)")
        with _WebSocket(port, "/session") as line:
            yield _Firefox(line)


class _Firefox:
    def __init__(self, line: _WebSocket) -> None:
        self._line = line
        self._numbers = count(1)
        self._ask("session.new", {"capabilities": {}})
        self._page = self._ask("browsingContext.getTree", {})["contexts"][0]["context"]

    def press(self, script: str) -> None:
        self.run(f"({script}).click()")

    def resize(self, size: Mapping[str, int]) -> None:
        asked = {"context": self._page, "viewport": dict(size)}
        self._ask("browsingContext.setViewport", asked)

    def _ask(self, method: str, params: dict[str, Any]) -> Any:
        number = next(self._numbers)
        self._line.send(json.dumps({"id": number, "method": method, "params": params}))
        while (answer := json.loads(self._line.receive())).get("id") != number:
            pass
        if answer["type"] == "error":
            raise ScriptFault(answer["message"])
        return answer["result"]

    def goto(self, address: str) -> None:
        asked = {"context": self._page, "url": address, "wait": "complete"}
        self._ask("browsingContext.navigate", asked)

    def run(self, script: str) -> Any:
        asked = {
            "expression": f"Promise.resolve({script}).then((it) => JSON.stringify(it ?? null))",
            "target": {"context": self._page},
            "awaitPromise": True,
            "userActivation": True,
        }
        answer = self._ask("script.evaluate", asked)
        if answer["type"] == "exception":
            raise ScriptFault(answer["exceptionDetails"]["text"])
        return json.loads(answer["result"]["value"])


class _WebSocket:
    """A line of texts both ways, as far as it is needed here (RFC 6455)."""

    def __init__(self, port: int, path: str) -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
        self._file = self._socket.makefile("rb")
        key = base64.b64encode(os.urandom(16)).decode()
        head = (
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n"
        )
        self._socket.sendall(head.encode())
        assert b" 101 " in self._file.readline()
        while self._file.readline().strip():
            pass

    def __enter__(self) -> _WebSocket:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()
        self._socket.close()

    def send(self, text: str) -> None:
        data, mask = text.encode(), os.urandom(4)
        length = (
            struct.pack("!B", 0x80 | len(data))
            if len(data) < 126
            else struct.pack("!BH", 0xFE, len(data))
            if len(data) < 1 << 16
            else struct.pack("!BQ", 0xFF, len(data))
        )
        masked = bytes(byte ^ mask[place % 4] for place, byte in enumerate(data))
        self._socket.sendall(b"\x81" + length + mask + masked)

    def receive(self) -> str:
        data, is_last = b"", False
        while not is_last:
            first, length = self._file.read(2)
            is_last = bool(first & 0x80)
            if length > 125:
                form = "!H" if length == 126 else "!Q"
                (length,) = struct.unpack(form, self._file.read(struct.calcsize(form)))
            data += self._file.read(length)
        return data.decode()


# WebKitGTK


WEBKIT_DRIVER = shutil.which("WebKitWebDriver")
SCREEN = shutil.which("Xvfb")
_BROWSERS = sorted(Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser"))
_OPTIONS = (
    "--automation",
    "--enable-media-stream=true",
    "--enable-webaudio=true",
)
_HUM = "--enable-mock-capture-devices=true"


@contextmanager
def webkit(folder: Path, sound: Mapping[str, str] | None = None) -> Iterator[Engine]:
    """WebKitGTK with a microphone that hums, or the sound of an environment; skipped without."""
    if not (WEBKIT_DRIVER and SCREEN and _BROWSERS):
        pytest.skip("WebKitGTK, its driver or Xvfb is not installed")
    folder.mkdir()
    with _screen() as screen, socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
        free.close()
        environment = {
            **(sound or {}),
            "DISPLAY": screen,
            "HOME": str(folder),
            "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1",
            "WEBKIT_DISABLE_COMPOSITING_MODE": "1",
        }
        with _process([WEBKIT_DRIVER, f"--port={port}"], environment):
            options = _OPTIONS if sound else (*_OPTIONS, _HUM)
            engine = _WebKit(f"http://127.0.0.1:{port}", str(_BROWSERS[-1]), options)
            try:
                yield engine
            finally:
                engine.end()


class _WebKit:
    def __init__(self, address: str, browser: str, arguments: tuple[str, ...]) -> None:
        self._client = httpx2.Client(base_url=address, timeout=PATIENCE_S)
        options = {"binary": browser, "args": list(arguments)}
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        session = self._ask("/session", {"capabilities": wanted})["sessionId"]
        self._path = f"/session/{session}"
        self._ask(f"{self._path}/timeouts", {"script": int(1000 * PATIENCE_S)})

    def _ask(self, path: str, body: dict[str, Any]) -> Any:
        patient_until = monotonic() + PATIENCE_S
        while True:
            try:
                answer = self._client.post(path, json=body)
                break
            except httpx2.ConnectError:
                assert monotonic() < patient_until, "the driver does not answer"
                sleep(0.1)
        told = answer.json()["value"]
        if answer.status_code != 200:
            raise ScriptFault(told["message"])
        return told

    def goto(self, address: str) -> None:
        self._ask(f"{self._path}/url", {"url": address})

    def run(self, script: str) -> Any:
        line = (
            f"const done = arguments[0]; Promise.resolve({script})"
            ".then((it) => done([it ?? null]), (fault) => done(String(fault)));"
        )
        answer = self._ask(f"{self._path}/execute/async", {"script": line, "args": []})
        if isinstance(answer, str):
            raise ScriptFault(answer)
        return answer[0]

    def press(self, script: str) -> None:
        patient_until = monotonic() + PATIENCE_S
        while True:
            try:
                return self._press(script)
            except ScriptFault:  # what is pressed has moved away, and was not pressed
                if monotonic() > patient_until:
                    raise
            sleep(0.2)

    def _press(self, script: str) -> None:
        self.run(f"({script}).scrollIntoView({{block: 'center', behavior: 'instant'}})")
        found = self._ask(f"{self._path}/execute/sync", {"script": f"return {script}", "args": []})
        (number,) = found.values()
        self._ask(f"{self._path}/element/{number}/click", {})

    def resize(self, size: Mapping[str, int]) -> None:
        self._ask(f"{self._path}/window/rect", dict(size))
        frame = self.run("[outerWidth - innerWidth, outerHeight - innerHeight]")
        sides = zip(("width", "height"), frame, strict=True)
        self._ask(f"{self._path}/window/rect", {side: size[side] + px for side, px in sides})

    def end(self) -> None:
        self._client.delete(self._path)
        self._client.close()


# Both


SOUND = shutil.which("pulseaudio")


@contextmanager
def _quiet_sound(folder: Path) -> Iterator[dict[str, str]]:
    """A loudspeaker that nobody hears: without any, Firefox lets no clock of sound run."""
    if SOUND is None:
        pytest.skip("PulseAudio is not installed")
    place = folder / "sound"
    modules = ("module-null-sink", f"module-native-protocol-unix auth-anonymous=1 socket={place}")
    options = ("-n", "--daemonize=no", "--use-pid-file=no", "--disable-shm=yes")
    own = {"HOME": str(folder), "XDG_RUNTIME_DIR": str(folder)}
    loads = [f"--load={module}" for module in modules]
    with _process([SOUND, *options, "--exit-idle-time=-1", *loads], own):
        patient_until = monotonic() + PATIENCE_S
        while not place.exists():
            assert monotonic() < patient_until, "PulseAudio does not answer"
            sleep(0.05)
        yield own | {"PULSE_SERVER": f"unix:{place}"}


@contextmanager
def _screen() -> Iterator[str]:
    """A screen that nobody sees."""
    assert SCREEN
    read, write = os.pipe()
    process = subprocess.Popen(
        [SCREEN, "-displayfd", str(write), "-screen", "0", "1280x900x24", "-nolisten", "tcp"],
        pass_fds=(write,),
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    try:
        with os.fdopen(read) as told:
            yield f":{told.readline().strip()}"
    finally:
        process.terminate()
        process.wait(10)


@contextmanager
def _process(
    command: list[str], environment: dict[str, str], told: Path | None = None
) -> Iterator[None]:
    """A program with all that it starts, ended with the block; what it says goes to a file."""
    with Path(told or os.devnull).open("wb") as file:
        process = subprocess.Popen(
            command,
            env=os.environ | environment,
            stdout=file,
            stderr=file,
            start_new_session=True,
        )
    try:
        yield
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def _told_port(told: Path, pattern: str) -> int:
    """The port that a program says it listens at."""
    patient_until = monotonic() + PATIENCE_S
    while monotonic() < patient_until:
        if match := re.search(pattern, told.read_text("utf-8", errors="replace")):
            return int(match[1])
        sleep(0.1)
    raise AssertionError("the browser ended before it could be spoken to")


ENGINES: dict[str, Callable[..., Any]] = {"Firefox": firefox, "WebKitGTK": webkit}
