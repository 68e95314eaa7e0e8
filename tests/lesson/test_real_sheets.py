"""Whole lessons from lead sheets nobody here wrote.

Source: lead sheets of public-domain tunes in MusicXML, beside the repository, six of them in
cut time. What is held against each (key, bars, first chords) was read in the file by hand.

One of the six in cut time has all steps and another half of them, of which music21 reads a
third; the others have a third, and those in another metre one, read whole. So each step is written
over four sheets and more, in cut time over two at least: by `scripts/test --whole`, for without it
only half of the sheets are read.
Two short sheets have a backing of as many choruses as a lesson has else, and the players of the
band alone; the others have one chorus of the band together, at a fast tempo, which is as many
notes in less sound.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from halfstep.etude.steps import parse_steps
from halfstep.instruments import find_instrument
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import make_lesson
from halfstep.render.sound_file import SOUND_FORMATS
from halfstep.services.make_lesson import write_lesson
from lesson.lesson_files import W3C, assert_lesson_holds_together, lesson_data
from typed_charts import load_chart

pytest.importorskip("jsonschema")

SHEETS = {
    "frankie-and-johnny": ("alto-sax", "C", "4/4", "0", ["C", "G7#5", "C", "G7#5"]),
    "after-youve-gone": ("clarinet", "Bb", "4/4", "0", ["Ebmaj7", "Ebm6", "Bbmaj7", "G9"]),
    "sweet-georgia-brown": ("trumpet", "F", "4/4", "0", ["D7", "G7", "C7", "F"]),
    "my-melancholy-baby": ("tenor-sax", "Eb", "4/4", "0", ["Eb", "Bb+", "Eb", "Bb+"]),
    "o-christmas-tree": ("trombone", "F", "3/4", "1", ["F", "C7", "F", "Gm"]),
    "auld-lang-syne": ("flute", "F", "4/4", "1", ["F", "C7", "F", "Bb"]),
    "do-it-again": ("tenor-sax", "F", "2/2", "0", ["F", "F6", "Fmaj7", "F"]),
    "i-wanna-be-loved-by-you": ("alto-sax", "C", "2/2", "0", ["C", "C+", "B+", "Bb7"]),
    "yes-sir-that-s-my-baby": ("trumpet", "Eb", "2/2", "0", ["Eb", "Edim7", "Bb7", "Eb"]),
    "that-certain-feeling": ("clarinet", "Eb", "2/2", "0", ["Eb6", "Bb7", "Eb6", "Bb7"]),
    "but-not-for-me": ("trombone", "Eb", "2/2", "0", ["N.C.", "Bb7", "Eb", "Cm7"]),
    "am-i-blue": ("flute", "F", "2/2", "4", ["F", "C9", "F", "A7b5"]),
}
EVERY_NTH_STEP = {"but-not-for-me": 1, "am-i-blue": 2}
"""A bar without a chord, and a pickup of a whole bar; every third else, or one."""
FAST_BPM = 240.0
WITH_ALL_SOUND = ("frankie-and-johnny", "o-christmas-tree")
"""In four and in three, with a pickup."""


def letters_of(title: str) -> str:
    """A title without case, spaces and signs, as its file is named."""
    return re.sub(r"[^a-z]", "", title.casefold())


@pytest.mark.slow
@pytest.mark.skipif(not W3C.exists(), reason="the W3C's schema is not there")
@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[pytest.mark.repeat] * (place % 2 and name not in WITH_ALL_SOUND))
        for place, name in enumerate(SHEETS)
    ],
)
def test_a_real_lead_sheet_becomes_a_lesson(
    name: str, reference_data: Path, tmp_path: Path
) -> None:
    player, key, meter, pickup, first = SHEETS[name]
    chart = load_chart(str(reference_data / "musicxml" / f"{name}.mxl"))
    folder = tmp_path / name
    place, in_cut_time = list(SHEETS).index(name), meter == "2/2"
    apart = EVERY_NTH_STEP.get(name, 3 if in_cut_time else 6)
    steps = parse_steps("1-6")[place % apart :: apart]
    heard = slice(place % 2, None, 3) if in_cut_time else slice(None)
    stems = name in WITH_ALL_SOUND
    choruses = None if stems else 1
    brief = LessonBrief(
        chart,
        (Player(find_instrument(player)),),
        steps,
        tempo_bpm=None if stems else FAST_BPM,
        choruses=choruses,
    )
    lesson = make_lesson(brief)
    write_lesson(lesson, folder, sound=SOUND_FORMATS["wav"], stems=stems)
    data = lesson_data(folder)
    assert_lesson_holds_together(folder, heard=heard, stems=stems)
    assert letters_of(data["title"]) == letters_of(name)
    found = data["chart"]
    assert (found["key"], found["meter"], found["pickup_beats"]) == (key, meter, pickup)
    assert [chord["symbol"] for chord in data["analysis"]["chords"]][:4] == first
