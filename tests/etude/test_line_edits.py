"""A line edited note by note: what each edit does, what it leaves, and what is in its way."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from etude_charts import INVENTED
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.etude.bar_rhythms import figures_of, is_writable
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.line_check import line_check
from halfstep.etude.line_edit import EditAction, EditRefused, LineEdit
from halfstep.etude.line_edits import edited
from halfstep.etude.line_marks import marked_line
from halfstep.etude.steps import STEPS, find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.notation import note_value, tuplet_groups, tuplet_ratio
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from typed_charts import read_chart_text

CHARTS = {
    **INVENTED,
    "five": "meter: 5/4\nkey: Ab\n| Abmaj7 | Fm7 | Bbm7 | Eb7 |",
    "halves": "meter: 2/2\nkey: D\n| D | G A | Bm | A7 |",
    "pickup": "key: C\n{pickup 1} G7 | Cmaj7 | A7 | N.C. | Dm7 G7 |",
    "one bar": "| C7 |",
}
PLAYERS = ("alto-sax", "trombone", "concert")


@cache
def written(
    chart: str, step: str, player: str = "alto-sax", level: Level = Level.INTERMEDIATE
) -> Etude:
    analysis = analyse(read_chart_text(CHARTS[chart]), level=level)
    return write_etude(find_step(step), analysis, Brief(INSTRUMENTS[player], level, 120.0, 1))


def typed(text: str, chart: str = "| Dm7 | G7 | Cmaj7 | A7b9 |", **more: object) -> Etude:
    """A line by name and length: ``D4:1 r:1/2``, over a chart of whole bars."""
    analysis = analyse(read_chart_text(chart))
    brief = Brief(INSTRUMENTS["concert"], Level.INTERMEDIATE, 120.0, 1, **more)  # type: ignore[arg-type]
    onset, notes = Fraction(0), []
    for word in text.split():
        name, beats = word.split(":")
        pitch = None if name == "r" else parse_pitch(name)
        chord = max(n for n, c in enumerate(analysis.chords) if c.span.start <= onset)
        notes.append(EtudeNote(onset, Fraction(beats), pitch, chord))
        onset += Fraction(beats)
    etude = Etude(step=find_step("chorus"), analysis=analysis, brief=brief, notes=tuple(notes))
    return replace(etude, notes=marked_line(notes, replace(etude, notes=())))


def shown(etude: Etude) -> str:
    return " ".join(f"{note.pitch or 'r'}:{note.beats}" for note in etude.notes)


LINE = "D4:1 F4:1 A4:1/2 C5:1/2 D5:1 B4:2 r:2 E5:3 D5:1 C#5:4"


def after(text: str, action: str, at: object = 0, figure: tuple[object, ...] = ()) -> str:
    lengths = tuple(Fraction(str(beats)) for beats in figure)
    return shown(edited(typed(text), LineEdit(EditAction(action), Fraction(str(at)), lengths)))


# What each edit does


@pytest.mark.parametrize(
    ("action", "at", "new"),
    [
        ("step-up", 0, "E4:1"),
        ("step-down", 0, "C4:1"),
        ("half-step-up", 0, "E♭4:1"),
        ("half-step-down", 0, "C♯4:1"),
        ("chord-tone-up", 0, "F4:1"),
        ("chord-tone-down", 0, "C4:1"),
        ("octave-up", 0, "D5:1"),
        ("octave-down", 0, "D3:1"),
    ],
)
def test_a_note_moves_and_keeps_its_time(action: str, at: int, new: str) -> None:
    assert after(LINE, action, at) == shown(typed(LINE)).replace("D4:1", new, 1)


def test_a_note_is_spelled_as_its_chord_spells_it() -> None:
    """Over A7♭9 the note below C♯ is C, the one above D; B♭ is its ♭9, never A♯."""
    assert after(LINE, "step-down", 12).endswith("B♭4:4")
    assert after(LINE, "chord-tone-up", 12).endswith("E5:4")


TIMES = [
    ("split", 0, "D4:1/2 D4:1/2 F4:1"),
    ("split", 8, "E5:2 E5:1 D5:1"),
    ("split", 2, "A4:1/4 A4:1/4 C5:1/2"),
    ("split", 6, "r:1 r:1"),
    ("join", 0, "D4:2 A4:1/2"),
    ("join", 4, "B4:4 E5:3"),
    ("tie", 3, "D5:3 r:2"),
    ("tie", 11, "D5:5"),
    ("rest", 0, "r:1 F4:1"),
    ("note", 6, "B4:2 B4:2 E5:3"),
    ("longer", 0, "D4:3/2 F4:1/2"),
    ("longer", 4, "B4:5/2 r:3/2"),
    ("shorter", 0, "D4:1/2 F4:3/2"),
    ("shorter", 3, "D5:1/2 r:1/2 B4:2"),
]


@pytest.mark.parametrize(("action", "at", "part"), TIMES, ids=str)
def test_a_note_is_split_joined_tied_made_a_rest_and_lengthened(
    action: str, at: int, part: str
) -> None:
    assert f" {part} " in f" {after(LINE, action, at)} "


def test_a_bar_takes_another_rhythm_and_what_sounds_where_its_notes_begin() -> None:
    figure = ("3/2", "1/2", "1", "1/2", "1/2")
    assert after(LINE, "rhythm", 0, figure).startswith("D4:3/2 F4:1/2 A4:1 D5:1/2 D5:1/2 B4:2")


def test_a_note_that_is_held_over_the_bar_line_is_cut_where_the_bar_has_a_new_rhythm() -> None:
    held = "D4:3 F4:2 B4:3 E5:6 C#5:2"
    assert after(held, "rhythm", 5, (2, 2)) == "D4:3 F4:1 F4:2 B4:2 E5:6 C♯5:2"
    assert after(held, "rhythm", 13, (4,)) == "D4:3 F4:2 B4:3 E5:4 E5:4"


# What is in its way


@pytest.mark.parametrize(
    ("action", "at", "figure", "reason"),
    [
        ("join", 3, (), "bar 1 beat 4: the bar line stands there; tie the note instead"),
        ("longer", 3, (), "bar 1 beat 4: the bar line stands there; tie the note instead"),
        ("longer", 2, (), "bar 1 beat 3.5: nothing would be left of it; join the two"),
        ("shorter", 2, (), "bar 1 beat 3: nothing would be left of it; make a rest of it"),
        ("join", 6, (), "bar 2 beat 3: the bar line stands there"),
        ("tie", 4, (), "bar 2: a note is not tied to a rest"),
        ("tie", 12, (), "bar 4: no note of the form follows that it is tied to"),
        ("step-up", 6, (), "bar 2 beat 3 is a rest; make a note of it first"),
        ("rest", 6, (), "bar 2 beat 3 is a rest; make a note of it first"),
        ("note", 0, (), "bar 1 is a note already"),
        ("split", "9/4", (), "no note or rest of the line begins at beat 9/4$"),
        ("rhythm", 99, (4,), "beat 99 lies outside the form"),
        ("rhythm", 0, (3,), "bar 1 has 4 beats; the rhythm has to fill it"),
        ("rhythm", 0, (5, -1), "bar 1 has 4 beats; the rhythm has to fill it"),
        ("rhythm", 0, ("1/64",) * 256, "bar 1: no notes are written so; try another length"),
        ("rhythm", 0, ("1/3", "1/2", "19/6"), "bar 1: no notes are written so; try another length"),
    ],
)
def test_what_cannot_be_written_is_said_in_one_line(
    action: str, at: object, figure: tuple[object, ...], reason: str
) -> None:
    with pytest.raises(EditRefused, match=reason):
        after(LINE, action, at, figure)


def test_a_rest_is_joined_with_a_rest_alone() -> None:
    line = "r:1 r:1 F4:2 G4:4 C5:4 A4:4"
    assert after(line, "join", 0).startswith("r:2 F4:2")
    with pytest.raises(EditRefused, match="bar 1 beat 2: a rest is joined with a rest alone"):
        after(line, "join", 1)


def test_a_sixteenth_and_a_triplet_are_not_split() -> None:
    short = "A4:1/4 B4:1/4 C5:1/2 D5:1/3 C5:1/3 B4:1/3 A4:2 G4:4 C5:4 A4:4"
    for at in ("0", "1"):
        with pytest.raises(EditRefused, match="so short a note is not split"):
            after(short, "split", at)
    assert after(short, "join", 1).startswith("A4:1/4 B4:1/4 C5:1/2 D5:2/3 B4:1/3")
    assert after(short, "tie", "5/3").endswith("D5:1/3 C5:1/3 B4:7/3 G4:4 C5:4 A4:4")


def test_no_note_lies_beyond_what_any_instrument_plays() -> None:
    with pytest.raises(EditRefused, match="no instrument here plays a note beyond that"):
        after("G9:4 G4:4 C5:4 A4:4", "octave-up")


def test_a_note_out_of_range_is_said_and_not_forbidden() -> None:
    before = written("evening class", "chorus")
    note = next(n for n in before.notes if n.pitch)
    edit = LineEdit(EditAction.OCTAVE_UP, note.onset)
    high = edited(edited(before, edit), edit)
    texts = [notice.text for notice in line_check(before).notices(high)]
    assert "bar 1 breaks the rule “every written note is in the player's range”" in texts


def test_a_note_that_is_not_known_is_said() -> None:
    before = typed("D4:4 G4:4 C5:4 A4:4", known=frozenset({62, 67, 72, 69}))
    after_step = edited(before, LineEdit(EditAction.STEP_UP, Fraction(8)))
    notices = line_check(before).notices(after_step)
    assert (3, "bar 3 has a note that is not among those known") in notices


def test_a_high_point_that_comes_twice_is_said() -> None:
    before = written("evening class", "chorus")
    top = max((n for n in before.notes if n.pitch), key=lambda n: n.pitch.midi if n.pitch else 0)
    twice = edited(before, LineEdit(EditAction.SPLIT, top.onset))
    assert (0, "the highest note no longer stands once, past the middle") in line_check(
        before
    ).notices(twice)


def test_a_line_of_rests_is_a_line() -> None:
    etude = typed("D4:4 G4:4 C5:4 A4:4")
    for note in etude.notes:
        etude = edited(etude, LineEdit(EditAction.REST, note.onset))
    assert shown(etude) == "r:4 r:4 r:4 r:4"
    note = edited(etude, LineEdit(EditAction.NOTE, Fraction(8))).notes[2]
    assert note.pitch
    assert note.pitch.midi % 12 in {0, 4, 7, 11}
    assert etude.brief.has(note.pitch.midi)


# Marks


@pytest.mark.sampled
@pytest.mark.parametrize("step", [step.name for step in STEPS])
def test_a_line_as_it_was_written_keeps_its_marks_and_breaks_no_more_rules(step: str) -> None:
    etude = written("evening class", step)
    assert marked_line(etude.notes, etude) == etude.notes
    assert line_check(etude).notices(etude) == ()


def test_a_note_from_outside_leads_by_a_half_step() -> None:
    etude = typed("D4:1 D#4:1 E4:2 G4:4 C5:4 A4:4")
    assert etude.notes[1].approach is Approach.CHROMATIC
    moved = edited(etude, LineEdit(EditAction.STEP_UP, Fraction(2)))
    assert moved.notes[1].approach is Approach.NONE


def test_the_first_hearing_of_a_changing_note_is_marked_and_the_second_is_not() -> None:
    etude = typed("F4:4 B4:2 B4:2 C5:4 C#5:4")
    assert [note.changing for note in etude.notes] == [False, False, False, False, True]
    assert "C♯5" in str(etude.notes[-1].pitch)


# Any edits


@st.composite
def edited_lines(draw: st.DrawFn) -> tuple[Etude, Etude]:
    """A line as it was written, and after a few edits, those that cannot be made left out."""
    step = draw(st.sampled_from(("chorus", "enclosures", "arpeggio", "call-and-response")))
    level = draw(st.sampled_from(Level))
    before = etude = written(
        draw(st.sampled_from(sorted(CHARTS))), step, draw(st.sampled_from(PLAYERS)), level
    )
    for _ in range(draw(st.integers(1, 6))):
        note = draw(st.sampled_from(etude.notes))
        action = draw(st.sampled_from(EditAction))
        meter = etude.analysis.chart.meter
        figures = figures_of(meter, level, Feel.SWING)
        figure = draw(st.sampled_from(figures)) if action is EditAction.RHYTHM else ()
        try:
            etude = edited(etude, LineEdit(action, note.onset, figure))
        except EditRefused:
            continue
    return before, etude


@pytest.mark.slow
@settings(max_examples=30)
@given(edited_lines())
def test_whatever_is_edited_adds_up_and_can_be_written(lines: tuple[Etude, Etude]) -> None:
    _, etude = lines
    assert etude.notes[0].onset == 0
    assert all(one.end == two.onset for one, two in zip(etude.notes, etude.notes[1:], strict=False))
    assert etude.notes[-1].end == etude.analysis.chart.beats
    part = part_for(etude.analysis, etude.brief.instrument)
    for bar in score_of(etude, part, title="", feel=Feel.SWING).bars:
        tuplets = {place for group in tuplet_groups(bar) for place in group}
        for place, note in enumerate(bar.notes):
            assert len(bar.notes) == 1 or note_value(bar, note)
            assert tuplet_ratio(note.beats)[0] == 1 or place in tuplets


@pytest.mark.slow
@settings(max_examples=15)
@given(edited_lines())
def test_what_is_said_of_a_line_names_a_bar_of_it(lines: tuple[Etude, Etude]) -> None:
    before, etude = lines
    bars = {bar.number for bar in etude.analysis.chart.form}
    assert all(notice.bar in {0, *bars} for notice in line_check(before).notices(etude))
    assert not [b for b in line_check(before).breaches(etude) if b.rule == "the bars add up"]


@pytest.mark.slow
@settings(max_examples=20)
@given(st.sampled_from(sorted(CHARTS)), st.data())
def test_up_and_down_again_is_the_same_line(chart: str, data: st.DataObject) -> None:
    etude = written(chart, "arpeggio")
    note = data.draw(st.sampled_from([n for n in etude.notes if n.pitch]))
    for way in ("half-step", "octave", "step", "chord-tone"):
        there = edited(etude, LineEdit(EditAction(f"{way}-up"), note.onset))
        back = edited(there, LineEdit(EditAction(f"{way}-down"), note.onset))
        assert [n.pitch for n in back.notes] == [n.pitch for n in etude.notes]


# Rhythms of a bar


METERS = [Meter(4, 4), Meter(3, 4), Meter(2, 2), Meter(5, 4), Meter(6, 8), Meter(7, 8), Meter(1, 4)]


@pytest.mark.parametrize("meter", METERS, ids=str)
@pytest.mark.parametrize("level", Level)
def test_the_rhythms_that_are_offered_fill_the_bar_and_can_be_written(
    meter: Meter, level: Level
) -> None:
    chart = read_chart_text(f"meter: {meter}\n| C7 |")
    bar, start = next(iter(chart.placed()))
    for feel in Feel:
        figures = figures_of(meter, level, feel)
        assert len(set(figures)) == len(figures) >= 1
        for figure in figures:
            onsets = [start + sum(figure[:n], Fraction(0)) for n in range(len(figure))]
            notes = [
                EtudeNote(at, beats, parse_pitch("C5"), 0)
                for at, beats in zip(onsets, figure, strict=True)
            ]
            assert sum(figure, Fraction(0)) == bar.beats
            assert is_writable(bar, start, notes)
