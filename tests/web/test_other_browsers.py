"""Is the practice room played in, recorded in and sent from in other engines than Chromium's, too?

Each engine has a stand-in for a microphone, which hums: what is heard of it is nobody's playing.
"""

from __future__ import annotations

import wave
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from browsers import DESKTOP, PHONE, served
from desks import PLAYERS, Desk, empty_desk, fill_class
from other_browsers import Engine, firefox, waited, webkit

from halfstep.data.about_json import read_about
from halfstep.school.invitations import invite_student, link_word
from halfstep.school.sent_takes import sent_takes_of

pytestmark = pytest.mark.slow


ONE_COLUMN_PX = 640
"""Below, a page has the layout of a phone (`static/desk.css`)."""
COUNTED = """(() => {
  window.made = { clocks: 0, microphones: 0 };
  window.AudioContext = class extends AudioContext {
    constructor(...options) { super(...options); made.clocks++; }
  };
  const media = navigator.mediaDevices;
  const real = media.getUserMedia.bind(media);
  media.getUserMedia = (what) => { made.microphones++; return real(what); };
})()"""


@pytest.mark.parametrize("browser", [firefox, webkit])
def test_a_take_is_played_recorded_sent_and_heard(
    tmp_path: Path, browser: Callable[[Path], AbstractContextManager[Engine]]
) -> None:
    """On a phone, and then, in the same visit, at a desk."""
    with empty_desk(tmp_path / "data") as desk:
        fill_class(desk, PLAYERS[:1])
        with served(desk, workers=1) as address, browser(tmp_path / "profile") as engine:
            engine.goto(f"{address}/in/{_word(desk)}")
            engine.press(_button("Yes, I am Ansel"))
            waited(engine, "location.pathname.startsWith('/room')")
            engine.goto(f"{address}/room")
            engine.run(COUNTED)
            for item, size in enumerate((PHONE, DESKTOP), 1):
                engine.resize(size)
                waited(engine, f"location.pathname.endsWith('/items/{item}')")
                _fits(engine, size)
                _played(engine)
                _recorded(engine)
                _sent_and_heard(engine)
                assert engine.run("made") == {"clocks": 1, "microphones": 1}
                engine.press(_button("Nearly"))
        _are_kept(desk)


def _word(desk: Desk) -> str:
    with desk.school.writing() as connection:
        return link_word(desk.secret, invite_student(connection, "Ansel"))


def _button(text: str) -> str:
    return f"[...document.querySelectorAll('button')].find((e) => e.textContent == '{text}')"


def _told(text: str) -> str:
    return f"document.body.innerText.includes('{text}')"


def _fits(engine: Engine, size: dict[str, int]) -> None:
    """A window may have a least width: what counts is how the page is laid out."""
    assert (engine.run("innerWidth") < ONE_COLUMN_PX) == (size == PHONE)
    assert engine.run("document.documentElement.scrollWidth - innerWidth") <= 0


def _played(engine: Engine) -> None:
    waited(engine, "!document.querySelector('#band-controls').hidden")
    engine.press("document.querySelector('[data-play]')")
    waited(engine, "document.querySelector('.here')")
    engine.press("document.querySelector('[data-play]')")
    waited(engine, "document.querySelector('[data-play]').textContent == 'Play'")


def _recorded(engine: Engine) -> None:
    engine.press("document.querySelector('[data-record]')")
    waited(engine, "document.querySelector('.here')")
    engine.press("document.querySelector('[data-record]')")
    waited(engine, _told("in this browser, not sent"))


def _sent_and_heard(engine: Engine) -> None:
    engine.press(_button("Send"))
    waited(engine, _told("is with your teacher"))
    waited(engine, _told("What was heard"))
    waited(engine, "!document.querySelector('#told-take progress')")


def _are_kept(desk: Desk) -> None:
    with desk.school.reading() as connection:
        takes = sent_takes_of(connection, 1)
    assert {read_about(take.about).piece[-len("items/1") :] for take in takes} == {
        "items/1",
        "items/2",
    }
    for take in takes:
        with wave.open(str(desk.school.folder / "takes" / take.file)) as sound:
            assert sound.getnframes() > sound.getframerate()
            assert any(sound.readframes(sound.getnframes()))
