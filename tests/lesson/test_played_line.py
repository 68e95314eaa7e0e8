"""How marks sound before anyone places them in time: lengths, velocities, slurs and bends."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from halfstep.etude.articulation import Articulation
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.touches import touches
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.played_line import LINE_VELOCITY, parted, played_line
from halfstep.level import Level
from halfstep.pitch import parse_pitch
from halfstep.played import Bend, Slur
from halfstep.score import Mark
from typed_charts import read_chart_text

TEXT = "E5 C5 A5:3/2 E5 D5 E5 G5:1, r:1 E5 D5 E5 D5 G5:2"


def line(*, articulation: Articulation | None = None) -> EtudeLine:
    """Two phrases with a ghost note, accents, a fall and a scoop."""
    notes, onset = [], Fraction(0)
    for word in TEXT.split():
        name, _, length = word.rstrip(",").partition(":")
        beats = Fraction(length or "1/2")
        pitch = None if name == "r" else parse_pitch(name)
        notes.append(EtudeNote(onset, beats, pitch, 0, breath=word.endswith(",")))
        onset += beats
    brief = Brief(INSTRUMENTS["alto-sax"], Level.ADVANCED, 140.0, articulation=articulation)
    return EtudeLine(analyse(read_chart_text("| C6 | C6 | C6 |")), brief, tuple(notes))


def test_a_plain_line_leaves_all_to_its_player() -> None:
    notes = played_line(line(articulation=Articulation.PLAIN)).notes
    assert {note.slur for note in notes} == {None}
    assert {note.velocity for note in notes} == {LINE_VELOCITY}


def test_slurs_have_two_ends() -> None:
    notes = played_line(line()).notes
    assert any(note.slur and Slur.INTO in note.slur for note in notes)
    for note, following in pairwise(notes):
        assert note.slur is not None
        assert following.slur is not None
        assert (Slur.INTO in note.slur) == (Slur.FROM in following.slur)


def test_ghost_notes_are_soft_and_accents_strong() -> None:
    etude = line()
    notes = [n for n in zip(etude.notes, touches(etude), strict=True) if n[0].pitch]
    played = played_line(etude).notes
    of = {
        mark: [p.velocity for p, (_, t) in zip(played, notes, strict=True) if mark in t.marks]
        for mark in (Mark.GHOST, Mark.ACCENT)
    }
    assert of[Mark.GHOST]
    assert max(of[Mark.GHOST]) < LINE_VELOCITY - 30
    assert of[Mark.ACCENT]
    assert min(of[Mark.ACCENT]) > LINE_VELOCITY


def test_bends_are_played() -> None:
    assert Bend.FALL in {note.bend for note in played_line(line()).notes}


def test_without_a_clock_a_tongued_note_ends_the_one_before_it_sooner() -> None:
    whole = played_line(line())
    for note, cut, following in zip(
        whole.notes, parted(whole).notes, whole.notes[1:], strict=False
    ):
        tongued = not (following.slur or Slur.NONE) & Slur.FROM
        touching = following.onset == note.onset + note.beats
        assert (cut.beats < note.beats) == (tongued and touching)
        assert cut.beats >= note.beats * Fraction(3, 4)


@pytest.mark.parametrize("articulation", [None, Articulation.PLAIN])
def test_the_last_note_is_whole(articulation: Articulation | None) -> None:
    whole = played_line(line(articulation=articulation))
    assert parted(whole).notes[-1] == whole.notes[-1]
