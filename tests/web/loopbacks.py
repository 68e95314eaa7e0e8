"""A browser whose speaker is its microphone: what it plays comes back, as late as a test has it.

PulseAudio gives a sink that nobody hears, and what is played into it as a microphone. In the page
all sound goes through a delay that is set, and a click sounds now and then: where these lie in what
was recorded is the truth, found by their height alone.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from base64 import b64decode
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Thread
from time import sleep
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile
from browsers import CHROMIUM, FLAGS, PATIENCE_MS, RealSite
from other_browsers import Engine, waited
from playwright.sync_api import Browser, Page, Playwright, expect

from halfstep.app.tasks.heard_take_tasks import belonging_of
from halfstep.app.web.page import STATIC
from halfstep.data.about_json import TakeAbout, read_about
from halfstep.listen.audio import Recording, Resampler
from halfstep.listen.chirps import ChirpDelays, chirp_delays
from halfstep.listen.kept_recording import KeptRecording
from halfstep.listen.spectra import RATE
from halfstep.school.jobs import jobs_of
from halfstep.school.sent_takes import sent_takes_of
from halfstep.services.give_feedback import GiveFeedback
from halfstep.services.room_band import room_band
from halfstep.services.room_delay import RoomDelay, room_delay
from halfstep.services.stored_requests import Request, read_request

PULSEAUDIO = shutil.which("pulseaudio")
RATES = (48_000, 44_100)
LISTENING = ("--use-fake-ui-for-media-stream", "--autoplay-policy=no-user-gesture-required")
"""Nobody is asked about the microphone, which is a real one to the browser."""
LATEST_S = 1.2
"""So much later than it was played a click is looked for at most."""
CLICK_S = 2.0
"""From one click to the next: longer than any delay, so that none is taken for another."""
_SERVER = ("-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--realtime=yes")
_CLICK = 0.5
"""How high a click rises at least."""
_PATIENCE_S = 0.05

WAY = """(() => {
  // All that a page plays goes this way: late by what is set, with a click at each even second.
  const destination = Object.getOwnPropertyDescriptor(BaseAudioContext.prototype, "destination");
  const ways = new WeakMap();
  window.loopback = { clicks_at: [] };
  function wayOf(context) {
    if (context instanceof OfflineAudioContext) return destination.get.call(context);
    if (!ways.has(context)) {
      const way = new DelayNode(context, { maxDelayTime: 1.5 });
      way.connect(destination.get.call(context));
      ways.set(context, way);
      loopback.context = context;
    }
    return ways.get(context);
  }
  const get = function () { return wayOf(this); };
  Object.defineProperty(BaseAudioContext.prototype, "destination", { get });
  loopback.late = (context, seconds, at = 0) => {
    wayOf(context).delayTime.setValueAtTime(seconds, at);
  };
  loopback.deaf = (context) => wayOf(context).disconnect();
  loopback.click = (context, at) => {
    const buffer = context.createBuffer(1, 9, context.sampleRate);
    const rise = (_, place) => 0.9 * Math.sin((Math.PI * (place + 1)) / 10) ** 2;
    buffer.copyToChannel(Float32Array.from({ length: 9 }, rise), 0);
    const source = new AudioBufferSourceNode(context, { buffer });
    source.connect(wayOf(context));
    const frame = Math.round(at * context.sampleRate);
    source.start(frame / context.sampleRate);
    loopback.clicks_at.push((frame + 4) / context.sampleRate);
  };
})()"""
EAR = """registerProcessor("ear", class extends AudioWorkletProcessor {
  process([[samples]]) {
    if (samples) this.port.postMessage({ frame: currentFrame, samples: samples.slice() });
    return true;
  }
});"""
VISIT = """async ({ hint }) => {
  // One clock and one microphone for a visit, as a room has them.
  const context = new AudioContext({ latencyHint: hint });
  await context.resume();
  await context.audioWorklet.addModule("/ear.js");
  const wish = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
  const stream = await navigator.mediaDevices.getUserMedia({ audio: wish });
  const ear = new AudioWorkletNode(context, "ear", { numberOfOutputs: 0 });
  const visit = { context, stream, blocks: [] };
  const hears = new Promise((settled) => {
    ear.port.onmessage = ({ data }) => { visit.blocks.push(data); settled(); };
  });
  context.createMediaStreamSource(stream).connect(ear);
  await hears;
  window.visit = visit;
}"""
TAKE = """async ({ length_s, added_s, jump_s, deaf, click_s }) => {
  const { context, blocks } = window.visit;
  const chirp = await import("/static/chirp.js");
  blocks.length = 0;
  loopback.clicks_at.length = 0;
  const begins = context.currentTime + 0.3;
  loopback.late(context, added_s);
  if (jump_s) loopback.late(context, added_s + jump_s, begins + length_s / 2);
  if (deaf) loopback.deaf(context);
  const chirps_at = [begins, begins + length_s].map((at) => chirp.playChirp(context, at));
  for (let at = begins + 0.5; at < begins + length_s - 0.1; at += click_s) {
    loopback.click(context, at);
  }
  const ends = begins + length_s + chirp.CHIRP_REST_S;
  await new Promise((done) => setTimeout(done, 1000 * (ends - context.currentTime) + 100));
  const sound = new Int16Array(blocks.length * 128);
  blocks.forEach(({ samples }, place) => {
    sound.set(samples.map((value) => Math.round(32767 * value)), 128 * place);
  });
  const bytes = Array.from(new Uint8Array(sound.buffer), (byte) => String.fromCharCode(byte));
  return {
    rate: context.sampleRate,
    begun_at: blocks[0].frame / context.sampleRate,
    missed: blocks.filter(({ frame }, place) => frame !== blocks[0].frame + 128 * place).length,
    chirps_at,
    clicks_at: loopback.clicks_at,
    sound: btoa(bytes.join("")),
  };
}"""


IN_ROOM = """({ length_s, jump_s, added_s, click_s }) => {
  const { context } = loopback;
  loopback.clicks_at.length = 0;
  const begins = context.currentTime + 0.5;
  if (jump_s) loopback.late(context, added_s + jump_s, begins + length_s / 2);
  for (let at = begins; at < begins + length_s; at += click_s) loopback.click(context, at);
  return loopback.clicks_at;
}"""


@dataclass(frozen=True, slots=True, eq=False)
class LoopTake:
    """A take over the loopback.

    Attributes
    ----------
    sound : float array, shape (samples,)
    rate : int
    begun_at : float
        When the page's clock says that its first sample was.
    chirps_at, clicks_at : tuple of float
        When they were played.
    room : RoomDelay or None
        What the program knows of a take of its room.
    """

    sound: npt.NDArray[np.float64]
    rate: int
    begun_at: float
    chirps_at: tuple[float, ...]
    clicks_at: tuple[float, ...]
    room: RoomDelay | None = None

    @property
    def told_s(self) -> float | None:
        """The delay that is told of all of it."""
        if self.room is None:
            return self.told.delay_s
        return None if self.room.start_s is None else self.room.start_s - self.room.first_beat_s

    @property
    def jump(self) -> str:
        """What is told of a jump; empty where none is."""
        if self.room is not None:
            return "; ".join(self.room.jumps)
        jump_s = self.told.jump_s
        return "" if jump_s is None else f"{1000 * jump_s:+.1f} ms"

    @property
    def true_delays_s(self) -> list[float]:
        """How late each click between the chirps is, by its height; lost ones are left out."""
        first, last = min(self.chirps_at), max(self.chirps_at)
        inside = [at for at in self.clicks_at if first < at < last]
        return [delay_s for at in inside for delay_s in self._delay_of_click(at)]

    def _delay_of_click(self, at: float) -> Iterator[float]:
        begin = round((at - self.begun_at) * self.rate)
        stretch = np.abs(self.sound[begin : begin + round(LATEST_S * self.rate)])
        if len(stretch) and stretch.max() > _CLICK:
            yield int(stretch.argmax()) / self.rate

    @property
    def told(self) -> ChirpDelays:
        """What the chirps tell."""
        turn = Resampler(RATE)
        parts = [*turn.resampled(self.sound.astype(np.float32), self.rate), *turn.rest()]
        return chirp_delays(_Played(parts), [at - self.begun_at for at in self.chirps_at])


@dataclass(frozen=True, slots=True, eq=False)
class _Played:
    parts: list[npt.NDArray[np.float32]]

    def blocks(self) -> Iterator[npt.NDArray[np.float32]]:
        yield from self.parts


@contextmanager
def loopback(rate: int = RATES[0]) -> Iterator[dict[str, str]]:
    """The environment of a program whose speaker is its microphone."""
    assert PULSEAUDIO is not None
    with TemporaryDirectory(prefix="pulse-") as folder:
        wire = Path(folder) / "wire"
        places = {"PULSE_RUNTIME_PATH": folder, "PULSE_STATE_PATH": folder, "HOME": folder}
        modules = (
            f"module-native-protocol-unix socket={wire} auth-anonymous=1",
            f"module-null-sink sink_name=speaker rate={rate}",
            "module-remap-source master=speaker.monitor source_name=microphone",
        )
        server = subprocess.Popen(
            [PULSEAUDIO, *_SERVER, *(f"--load={module}" for module in modules)],
            env={**os.environ, **places},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            while not wire.exists() and server.poll() is None:
                sleep(_PATIENCE_S)
            yield {**os.environ, **places, "PULSE_SERVER": f"unix:{wire}"}
        finally:
            server.terminate()
            server.wait()


def hearing_browser(playwright: Playwright, environment: Mapping[str, str]) -> Browser:
    """Chromium that plays and records; by itself it is mute when nobody watches."""
    return playwright.chromium.launch(
        executable_path=CHROMIUM,
        env=dict(environment),
        args=[*FLAGS, *LISTENING],
        ignore_default_args=["--mute-audio"],
    )


class _Answers(SimpleHTTPRequestHandler):
    """The modules of the site below ``/static``, a blank page and an ear."""

    def do_GET(self) -> None:
        if self.path.startswith("/static/"):
            self.path = self.path.removeprefix("/static")
            super().do_GET()
            return
        body, kind = (EAR, "text/javascript") if self.path == "/ear.js" else ("", "text/html")
        self.send_response(200)
        self.send_header("Content-Type", kind)
        self.end_headers()
        self.wfile.write(body.encode())

    def log_message(self, *_: Any) -> None:
        pass


@contextmanager
def blank_site() -> Iterator[str]:
    """The address of a site of a blank page."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Answers, directory=str(STATIC)))
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        server.server_close()


def visit(browser: Browser, address: str, *, hint: str = "interactive") -> Page:
    """A page whose microphone is open: each one is another connection of it.

    Parameters
    ----------
    browser : Browser
    address : str
    hint : str
        What the page asks of its audio clock: ``interactive``, ``balanced`` or ``playback``.
    """
    page = browser.new_page()
    page.add_init_script(WAY)
    page.goto(address)
    page.evaluate(VISIT, {"hint": hint})
    return page


class EnginePage:
    """A page of another engine, as far as a take over the loopback needs one.

    Parameters
    ----------
    engine : Engine
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def evaluate(self, script: str, value: Any) -> Any:
        """What a function of a page gives for a value."""
        return self._engine.run(f"({script})({json.dumps(value)})")


def engine_visit(engine: Engine, address: str, *, hint: str = "interactive") -> EnginePage:
    """`visit` in another engine, where nothing sounds before something is pressed."""
    engine.goto(address)
    engine.run(WAY)
    begins = f"() => ({VISIT})({json.dumps({'hint': hint})})"
    button = "document.body.appendChild(document.createElement('button'))"
    engine.run(f"void Object.assign({button}, {{ textContent: 'Begin', onclick: {begins} }})")
    engine.press("document.querySelector('button')")
    waited(engine, "window.visit")
    return EnginePage(engine)


def loop_take(
    page: Page | EnginePage,
    *,
    length_s: float,
    added_s: float = 0.0,
    jump_s: float = 0.0,
    deaf: bool = False,
) -> LoopTake:
    """A take: clicks with a chirp before and one behind.

    Parameters
    ----------
    page : Page or EnginePage
    length_s : float
        From one chirp to the other.
    added_s : float
        How much later all comes than by itself.
    jump_s : float
        How much later still from its middle on.
    deaf : bool
        Nothing comes back, as with headphones.
    """
    wish = {"length_s": length_s, "added_s": added_s, "jump_s": jump_s, "deaf": deaf}
    told = page.evaluate(TAKE, {**wish, "click_s": CLICK_S})
    return LoopTake(
        np.frombuffer(b64decode(told["sound"]), "<i2") / 32768,
        round(told["rate"]),
        told["begun_at"],
        tuple(told["chirps_at"]),
        tuple(told["clicks_at"]),
    )


# The practice room itself


def enter_room(site: RealSite) -> Page:
    """A player's room whose sound goes the way that is set; its microphone opens with a take."""
    expect.set_options(timeout=PATIENCE_MS)
    page = site.student("Ansel")
    page.add_init_script(WAY)
    page.goto("/room")
    expect(page.locator("[data-record]")).to_be_visible()
    return page


def open_item(page: Page, number: int, *, whole: bool = False) -> None:
    """Go to another item of the day, by its link or as a page of its own."""
    link = page.locator("#day a").nth(number - 1)
    address = link.get_attribute("href") or ""
    if whole:
        page.goto(address)
    else:
        link.click()
    expect(page.locator(f"#room[data-base='{address}']")).to_be_visible()


def room_take(
    site: RealSite,
    page: Page,
    *,
    length_s: float,
    added_s: float = 0.0,
    jump_s: float = 0.0,
    deaf: bool = False,
) -> LoopTake:
    """A take of the room as `loop_take` has it, recorded to its band, stopped, sent and kept."""
    page.evaluate(
        "(late_s) => loopback.context && loopback.late(loopback.context, late_s)", added_s
    )
    button = page.locator("[data-record]")
    button.click()
    expect(button).to_have_text("Stop")
    page.evaluate("(late_s) => loopback.late(loopback.context, late_s)", added_s)
    if deaf:
        page.evaluate("loopback.deaf(loopback.context)")
    expect(page.locator("[data-play]")).not_to_have_text("Play")
    wish = {"length_s": length_s, "added_s": added_s, "jump_s": jump_s, "click_s": CLICK_S}
    clicks_at = page.evaluate(IN_ROOM, wish)
    page.wait_for_timeout(1000 * (length_s + 1))
    button.click()
    page.locator("#tape [data-takes] li").get_by_role("button", name="Send").first.click()
    expect(page.locator("#tape [data-line]")).to_have_text("Your take is with your teacher.")
    with site.desk.school.reading() as connection:
        sent = max(sent_takes_of(connection, 1), key=lambda take: take.number)
        job = jobs_of(connection, belonging_of(sent))[-1]
    sound, rate = soundfile.read(path := site.desk.school.folder / "takes" / sent.file)
    about = read_about(sent.about)
    known = known_of(path, about, read_request(job.request))
    return LoopTake(sound, rate, about.begun_at, about.chirps_at, tuple(clicks_at), known)


def known_of(path: Path, about: TakeAbout, request: Request) -> RoomDelay:
    """What the program knows of the delay in a take, by its chirps and its band."""
    assert isinstance(request, GiveFeedback)
    with TemporaryDirectory() as folder:
        band = room_band(request.band or str(request.etude), about, Path(folder))
        sounds = [KeptRecording(Recording(one)) for one in (path, *([band.path] if band else ()))]
        return room_delay(sounds[0], about, *sounds[1:], band_start_s=band and band.start_s)
