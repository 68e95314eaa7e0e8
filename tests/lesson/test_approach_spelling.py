"""Notes that lead by a half step, in the names that a player reads.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

import pytest

from halfstep.data.lesson_json import etude_data
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.part.approach_spelling import approach_pitches, neighbour_name
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import Part, part_for
from halfstep.part.transposition import in_key
from halfstep.pitch import Pitch, parse_name, parse_pitch
from halfstep.progression.key import parse_key
from lesson.moved_charts import CHARTS
from typed_charts import read_chart_text


@pytest.mark.parametrize(
    ("sound", "goal", "name"),
    [
        ("G#4", "A4", "G#"),
        ("G#4", "G4", "Ab"),
        ("F4", "F#4", "E#"),
        ("C5", "C#5", "B#"),
        ("B4", "Bb4", "Cb"),
        ("E4", "Eb4", "Fb"),
        ("B3", "C4", "B"),
        ("C5", "B4", "C"),
    ],
)
def test_a_half_step_is_raised_from_below_and_lowered_from_above(
    sound: str, goal: str, name: str
) -> None:
    assert neighbour_name(parse_pitch(sound).midi, parse_pitch(goal)) == parse_name(name)


@pytest.mark.parametrize(("sound", "goal"), [("G4", "G#4"), ("A4", "Ab4"), ("D4", "Db4")])
def test_no_name_has_a_double_sign(sound: str, goal: str) -> None:
    assert neighbour_name(parse_pitch(sound).midi, parse_pitch(goal)) is None


@pytest.mark.parametrize("sound", ["A4", "B4", "G4", "A5"])
def test_only_a_half_step_is_spelled_by_its_goal(sound: str) -> None:
    assert neighbour_name(parse_pitch(sound).midi, parse_pitch("A4")) is None


def spelled(text: str, *approaches: Approach, tones: str = "", changing: bool = False) -> str:
    """Eighths in a row; each of the first ones leads as is said."""
    leads = (*approaches, *[Approach.NONE] * len(text.split()))
    notes = [
        EtudeNote(
            Fraction(n, 2), Fraction(1, 2), parse_pitch(word), 0, changing=changing, approach=lead
        )
        for n, (word, lead) in enumerate(zip(text.split(), leads, strict=False))
    ]
    names = {parse_name(name) for name in tones.split()}
    pitches = approach_pitches(notes, lambda note: note.pitch, lambda _: names)
    return " ".join(str(pitches.get(note.onset, note.pitch)) for note in notes)


def test_both_notes_of_an_enclosure_lead_to_its_goal() -> None:
    around = (Approach.ENCLOSURE, Approach.ENCLOSURE)
    assert spelled("A#4 Ab4 A4", *around) == "B♭4 G♯4 A4"
    assert spelled("Ab4 A#4 A4", *around) == "G♯4 B♭4 A4"


def test_a_goal_that_leads_itself_is_spelled_first() -> None:
    assert spelled("G4 Ab4 A4", Approach.CHROMATIC, Approach.CHROMATIC) == "G4 G♯4 A4"
    assert spelled("A4 Ab4 G4", Approach.NONE, Approach.CHROMATIC) == "A4 A♭4 G4"


def test_what_does_not_lead_keeps_its_name() -> None:
    assert spelled("Ab4 A4") == "A♭4 A4"


def test_a_changing_note_keeps_the_name_it_is_known_by() -> None:
    assert spelled("Ab4 A4", Approach.SCALE, changing=True) == "A♭4 A4"


def test_a_chord_tone_takes_no_rare_name() -> None:
    """Over F7 the root stays F before F♯; its seventh may be D♯ before E."""
    assert spelled("F4 F#4", Approach.SCALE, tones="F A C Eb") == "F4 F♯4"
    assert spelled("F4 F#4", Approach.SCALE) == "E♯4 F♯4"
    assert spelled("Eb4 E4", Approach.SCALE, tones="F A C Eb") == "D♯4 E4"


def lines(step: str) -> Iterator[tuple[Etude, Part]]:
    """Etudes over charts that leave their key, for three players."""
    for name, key in (("side-slip", "D"), ("back door", "E"), ("iii and vi", "Ab")):
        analysis = analyse(in_key(read_chart_text(CHARTS[name]), parse_key(key)))
        for instrument in map(INSTRUMENTS.__getitem__, ("concert", "tenor-sax", "alto-sax")):
            brief = Brief(instrument, Level.INTERMEDIATE, 112.0, 1)
            yield write_etude(find_step(step), analysis, brief), part_for(analysis, instrument)


def half_steps(etude: Etude, part: Part) -> Iterator[tuple[EtudeNote, Pitch, Pitch]]:
    """Each note that leads at once by a half step, as it is read, and its goal."""
    for note, goal in pairwise(etude.notes):
        old, new = part.pitch(note), part.pitch(goal)
        leads = note.approach in {Approach.SCALE, Approach.CHROMATIC}
        if old and new and leads and abs(old.midi - new.midi) == 1:
            yield note, old, new


@pytest.mark.slow
@pytest.mark.parametrize("step", ["approach-notes", "enclosures"])
def test_in_every_part_the_letter_is_the_note_s_own(step: str) -> None:
    """Not where it would need a double sign, nor for a changing note or an odd chord tone."""
    for etude, plain in lines(step):
        part = plain.of_line(etude.notes)
        for note, pitch, goal in half_steps(etude, part):
            assert abs(pitch.name.alteration) <= 1
            if pitch.staff_step - goal.staff_step != pitch.midi - goal.midi:
                name = neighbour_name(pitch.midi, goal)
                tone = pitch.name in part.names(note.chord)
                odd = tone and name is not None and name.ascii in {"E#", "B#", "Fb", "Cb"}
                assert name is None or note.changing or odd, f"{pitch} to {goal}"


@pytest.mark.slow
def test_staff_and_data_have_the_same_names() -> None:
    for etude, part in lines("approach-notes"):
        names = [note["written"] for note in etude_data(etude, part)["notes"]]
        score = score_of(etude, part, title="Names", feel=Feel.SWING)
        heads = [note.pitch.ascii for bar in score.bars for note in bar.notes if note.pitch]
        assert set(heads) == {name for name in names if name}
        read = part.of_line(etude.notes)
        assert names == [p.ascii if (p := read.pitch(note)) else None for note in etude.notes]
