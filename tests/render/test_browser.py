"""A browser's ear: every format decodes in Chromium to the frames that were written.

Runs where Chromium is installed; nothing is fetched, and no page but the test's own is opened.
"""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from queue import Queue
from threading import Thread

import numpy as np
import pytest

from halfstep.render.sampler import FRAME_RATE
from halfstep.render.sound_facts import SoundFacts
from halfstep.render.sound_file import PACKET, SOUND_FORMATS, sound_bytes

FRAMES, CLICK = 60 * PACKET, 30_000
BROWSERS = ("chromium", "chromium-browser", "chromium-headless-shell")
BROWSER = next(filter(None, map(shutil.which, BROWSERS)), None)
PAGE = """<script>
const sounds = %s;
(async () => {
  const heard = {};
  for (const [name, text] of Object.entries(sounds)) {
    const data = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const context = new OfflineAudioContext(2, 1, 44100);
    const sound = await context.decodeAudioData(data.buffer);
    const lane = sound.getChannelData(0);
    let top = 0;
    lane.forEach((value, place) => { if (Math.abs(value) > Math.abs(lane[top])) top = place; });
    heard[name] = [sound.length, top];
  }
  await fetch("/heard", {method: "POST", body: JSON.stringify(heard)});
})();
</script>"""


class PageServer(ThreadingHTTPServer):
    """Gives the page of the test, and takes what it heard."""

    def __init__(self, page: str) -> None:
        super().__init__(("127.0.0.1", 0), PageHandler)
        self.page, self.heard = page, Queue[dict[str, list[int]]]()


class PageHandler(BaseHTTPRequestHandler):
    """Answers the browser."""

    server: PageServer

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.end_headers()
        self.wfile.write(self.server.page.encode())

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.send_response(204)
        self.end_headers()
        self.server.heard.put(json.loads(body))

    def log_message(self, *_: object) -> None:
        """Say nothing."""


def heard_by_browser(page: str, profile: Path) -> dict[str, list[int]]:
    """What the page of a server on this machine tells of the sounds in it."""
    with PageServer(page) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        address = f"http://127.0.0.1:{server.server_port}/"
        options = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}"]
        with subprocess.Popen(
            [str(BROWSER), *options, address], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        ) as browser:
            try:
                return server.heard.get(timeout=100)
            finally:
                browser.terminate()
                server.shutdown()


def clicked() -> np.ndarray:
    """Silence with one click, highest on the frame `CLICK`."""
    sound = np.zeros((FRAMES, 2), np.int16)
    sound[CLICK - 20 : CLICK + 21] = (20_000 * np.hanning(41)).astype(np.int16)[:, None]
    return sound


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="Chromium is not installed")
def test_a_browser_gives_the_same_frames_back(tmp_path: Path) -> None:
    """As many as there were, and the click on its frame, however much the file says of itself."""
    facts = SoundFacts(
        title="Stairs", part="band", loop_frames=(0, FRAMES), frame_rate=FRAME_RATE, choruses=1,
        count_in_beats="4", chords=("Dm7",), meter="4/4", tempo_bpm=120.0,
        quarters_a_minute=120.0, swing_ratio=1.0, style="straight",
    )  # fmt: skip
    sounds = {
        f"{name} {letters}": base64.b64encode(
            sound_bytes(form, clicked(), replace(facts, sound_print="A" * letters))
        ).decode()
        for name, form in SOUND_FORMATS.items()
        for letters in (0, 30_000, 150_000)
    }
    heard = heard_by_browser(PAGE % json.dumps(sounds), tmp_path)
    assert {name: top for name, (_, top) in heard.items()} == dict.fromkeys(
        sounds, pytest.approx(CLICK, abs=2)
    )
    assert {length for length, _ in heard.values()} == {FRAMES}
