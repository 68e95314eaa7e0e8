"""How a line is tongued and slurred: each rule on a line made for it, and what holds for all.

Source of the rules: common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from etude_charts import INVENTED

from halfstep.etude.articulation import BALLAD_BPM, TOUCH_RULES, Articulation
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.sentences import PartLine
from halfstep.etude.steps import STEPS, find_step
from halfstep.etude.teachers_line import TeachersLine, exercise_of
from halfstep.etude.touch_words import touched
from halfstep.etude.touches import UNTOUCHED, line_articulation, touches
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from halfstep.score import Dynamic, Mark
from typed_charts import read_chart_text

F = Fraction
LEVELS = {"b": Level.BEGINNER, "i": Level.INTERMEDIATE, "a": Level.ADVANCED}
WORDS = {
    Mark.SLUR: "-", Mark.ACCENT: ">", Mark.STACCATO: ".", Mark.TENUTO: "_", Mark.GHOST: "x",
    Mark.SCOOP: "/", Mark.FALL: "\\",
}  # fmt: skip


def line(
    text: str,
    *,
    level: Level = Level.ADVANCED,
    feel: Feel = Feel.SWING,
    bpm: float = 140.0,
    player: str = "alto-sax",
    chart: str = "| C6 | C6 | C6 | C6 |",
    articulation: Articulation | None = None,
) -> EtudeLine:
    """A line typed by hand: eighths, or with a length behind ``:``; ``r`` rests, ``,`` breathes."""
    analysis = analyse(read_chart_text(chart))
    notes, onset = [], F(0)
    for word in text.split():
        name, _, length = word.rstrip(",").partition(":")
        beats = F(length or "1/2")
        pitch = None if name == "r" else parse_pitch(name)
        notes.append(EtudeNote(onset, beats, pitch, 0, breath=word.endswith(",")))
        onset += beats
    brief = Brief(INSTRUMENTS[player], level, bpm, feel=feel, articulation=articulation)
    return EtudeLine(analysis, brief, tuple(notes))


def signs(text: str, **asked: object) -> str:
    """The marks of each note of a typed line, ``.`` words of it: ``0`` for none."""
    marked = touches(line(text, **asked))  # type: ignore[arg-type]
    words = ("".join(sign for mark, sign in WORDS.items() if mark in t.marks) for t in marked)
    return " ".join(word or "0" for word in words)


def test_in_swing_the_off_beat_is_tongued_and_slurred_into_the_beat():
    assert signs("G5 F5 E5 D5 E5 D5 E5 F5 E5:1", level=LEVELS["i"]) == "0 - 0 - 0 - 0 0 0"


def test_what_lies_a_fourth_or_more_away_is_tongued():
    assert signs("E5 D5 G4 A4 E5 D5 C5 B4 C5:1").split()[1] == "0"
    assert signs("E5 D5 B4 A4 E5 D5 C5 B4 C5:1").split()[1] == "-"


def test_a_note_struck_again_is_tongued():
    assert signs("E5 D5 D5 C5 D5 C5 C5:1").split()[1] == "0"


def test_first_and_last_notes_of_a_phrase_are_tongued():
    marks = signs("r D5 C5:1, r r D5 E5 F5 E5 D5 C5:1", level=LEVELS["i"]).split()
    assert marks[1] == "0"  # the next is the last of its phrase
    assert marks[-2] == "0"


def test_the_top_of_a_phrase_is_accented_and_so_tongued():
    assert signs("C5 D5 E5 F5 G5 E5 D5 C5 D5:1", level=LEVELS["i"]).split()[3:5] == ["0", ">"]


def test_anticipations_are_accented():
    marks = signs("C5 D5 C5 E5:3/2 D5 C5 D5:1", level=LEVELS["i"]).split()
    assert marks[3] == ">"


def test_a_low_note_off_the_beat_between_two_higher_ones_is_a_ghost_note():
    assert "x" in signs("E5 C5 F5 E5 D5 C5 D5:1").split()[1]
    assert "x" not in signs("E5 C5 F5 E5 D5 C5 D5:1", level=LEVELS["b"])


def test_a_changing_note_is_no_ghost_and_is_tongued_on_a_strong_beat():
    plain = line("E5 C5 F5 E5 D5 C5 D5:1")
    new = plain.notes[1]._replace(changing=True)
    told = EtudeLine(plain.analysis, plain.brief, (plain.notes[0], new, *plain.notes[2:]))
    assert Mark.GHOST not in touches(told)[1].marks
    on_three = line("C5 D5 E5 D5 C5 D5 E5 D5:1")
    new = on_three.notes[4]._replace(changing=True)
    notes = (*on_three.notes[:4], new, *on_three.notes[5:])
    assert Mark.SLUR in touches(on_three)[3].marks
    assert Mark.SLUR not in touches(EtudeLine(plain.analysis, plain.brief, notes))[3].marks


def test_a_short_note_off_the_beat_before_a_rest_is_short():
    assert signs("C5 D5 E5 D5 C5 r C5:1", level=LEVELS["i"]).split()[4] == "0"
    assert signs("C5 D5 C5 D5 r:1 C5:1", level=LEVELS["i"]).split()[3] == "."


def test_triplets_are_slurred_inside_their_beat():
    assert signs("G5:1 F5:1/3 E5:1/3 D5:1/3 E5:1 D5:1").split()[1:3] == ["-", "-"]


def test_even_eighths_are_slurred_in_twos_and_for_advanced_players_in_fours():
    text = "C5 D5 E5 F5 E5 D5 C5 D5 E5 D5 E5:1"
    twos = signs(text, feel=Feel.STRAIGHT, level=LEVELS["i"]).replace(">", "").split(" ")
    assert [bool("-" in sign) for sign in twos[:8]] == [True, False] * 4
    fours = signs(text, feel=Feel.STRAIGHT).split()
    assert ["-" in sign for sign in fours[:8]] == [True, True, True, False] * 2


def test_in_six_eight_a_slur_ends_with_its_pulse():
    text = "C5 D5 E5 F5 E5 D5 C5 D5 E5 D5 E5:1"
    chart = "meter: 6/8\n| C6 | C6 | C6 | C6 |"
    marks = signs(text, chart=chart, level=LEVELS["i"], bpm=60).split()
    assert ["-" in sign for sign in marks[:6]] == [True, True, False] * 2


def test_a_ballad_is_legato_and_what_is_struck_again_is_held():
    asked = {"bpm": BALLAD_BPM}
    marks = signs("C5 D5 E5 F5 F5 E5 D5 C5 D5 E5:1", **asked).split()
    assert [("-" in sign) for sign in marks[:8]] == [True] * 3 + [False] + [True] * 3 + [False]
    assert "_" in marks[4]


def test_beginners_tongue_and_slur_a_few_steps_in_twos():
    marks = [
        t.marks for t in touches(line("C5 D5 E5 F5 G5 F5 E5 D5 C5 D5 C5:1", level=LEVELS["b"]))
    ]
    assert set(marks) == {Mark.NONE, Mark.SLUR}
    assert [mark is Mark.SLUR for mark in marks] == [False] * 3 + [True] + [False] * 3 + [
        True, False, False, False,
    ]  # fmt: skip


def test_a_line_grows_to_its_highest_phrase_and_no_beginner_is_told():
    text = "C5 D5 C5:1 r:2 D5 E5 D5:1 r:2 F5 A5 G5:1 r:2 E5 D5 C5:1"
    shown = [touch.dynamic for touch in touches(line(text)) if touch.dynamic]
    assert shown == [Dynamic.MEZZO_PIANO, Dynamic.MEZZO_FORTE, Dynamic.FORTE, Dynamic.MEZZO_FORTE]
    assert not any(t.dynamic for t in touches(line(text, level=LEVELS["b"])))
    quiet = [touch.dynamic for touch in touches(line(text, bpm=60)) if touch.dynamic]
    assert quiet[0] is Dynamic.PIANO


@pytest.mark.parametrize(
    ("player", "bent"), [("alto-sax", True), ("voice", True), ("piano", False)]
)
def test_scoops_and_falls_are_for_who_can_bend_a_note(player: str, bent: bool):
    marks = signs("E5:1 D5 C5 E5:1, r:1 C5 D5 C5:1", player=player)
    assert ("/" in marks, "\\" in marks) == (bent, bent)


def test_bends_lie_eight_bars_apart():
    chart = "| C6 |" * 16
    text = "E5:1 D5 C5 E5:1, r:1 " * 16
    marks = signs(text, chart=chart).split()
    for sign in "/\\":
        places = [n // 5 for n, word in enumerate(marks) if sign in word]
        assert len(places) == 2
        assert all(later - sooner >= 8 for sooner, later in pairwise(places))


def test_a_plain_line_has_no_marks_and_a_teachers_line_is_plain():
    plain = line("C5 D5 E5 F5 G5:2", articulation=Articulation.PLAIN)
    assert set(touches(plain)) == {UNTOUCHED}
    teachers = TeachersLine((LineNote(0, 1, 60), LineNote(1, 1, 62)), "well")
    assert line_articulation(exercise_of(teachers, plain.analysis, line("C5").brief)) is (
        Articulation.PLAIN
    )


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("chart", INVENTED)
@pytest.mark.parametrize("step", [step.name for step in STEPS])
def test_every_step_keeps_the_rules_at_every_level(step: str, chart: str):
    """Slurs join two notes of a phrase, within reach; nothing stands on a rest."""
    analysis = analyse(read_chart_text(INVENTED[chart]))
    for level in Level:
        brief = Brief(INSTRUMENTS["alto-sax"], level, 140.0, seed=3)
        etude = write_etude(find_step(step), analysis, brief)
        rules = TOUCH_RULES[line_articulation(etude)][level]
        pairs = list(zip(etude.every_note, touches(etude), strict=True))
        assert all(touch == UNTOUCHED for note, touch in pairs if note.pitch is None)
        assert Mark.SLUR not in pairs[-1][1].marks
        for (note, touch), (following, _) in pairwise(pairs):
            if Mark.SLUR in touch.marks:
                assert note.pitch
                assert following.pitch
                assert not note.breath
                assert 0 < abs(note.pitch.midi - following.pitch.midi) <= rules.widest


def test_an_edited_line_is_touched_anew():
    analysis = analyse(read_chart_text(INVENTED["evening class"]))
    brief = Brief(INSTRUMENTS["alto-sax"], Level.ADVANCED, 140.0)
    etude = write_etude(find_step("one-line"), analysis, brief)
    place = next(n for n, touch in enumerate(touches(etude)) if Mark.SLUR in touch.marks)
    rest = etude.notes[place + 1]._replace(pitch=None)
    notes = (*etude.notes[: place + 1], rest, *etude.notes[place + 2 :])
    cut = Etude(step=etude.step, analysis=analysis, brief=brief, notes=notes)
    assert Mark.SLUR not in touches(cut)[place].marks


def test_what_is_marked_is_told_and_a_plain_line_says_nothing():
    text = "E5:1 D5 C5 E5 C5 G5 E5 D5:1, r:1 C5 D5 C5:1"
    told = sentence(line(text))
    assert told.startswith("Tongue the off-beat notes and slur them into the beat")
    assert "accents in bar 1" in told
    assert "barely sounded" in told
    assert "scoop into the note in bar 1" in told
    assert sentence(line(text, articulation=Articulation.PLAIN)) == ""
    assert sentence(line("C5:4 D5:4", level=LEVELS["b"])) == "Tongue every note."


def sentence(marked: EtudeLine) -> str:
    """What a player is told of a line in concert pitch."""
    part = part_for(marked.analysis, INSTRUMENTS["concert"])
    notes = tuple(note for note in marked.notes if note.pitch)
    return touched(PartLine(marked, part, notes, tuple(marked.analysis.chart.placed())))
