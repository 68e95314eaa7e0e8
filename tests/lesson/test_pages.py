"""What a handout says, in words and marks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfstep.errors import BriefError
from halfstep.etude.steps import parse_steps
from halfstep.instruments import INSTRUMENTS, Compass
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import Lesson, make_lesson
from halfstep.lesson.pages import BREATHE, CHANGING, GHOST, handout_for, teacher_sheet
from halfstep.lesson.played_line import played_line
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.pitch import parse_pitch
from halfstep.render.handout import Detail
from halfstep.render.score_pictures import draw_sign
from halfstep.score import Barline, Mark
from typed_charts import read_chart_text


def lesson(text: str, key: str = "alto-sax", level: Level = Level.INTERMEDIATE) -> Lesson:
    return make_lesson(
        LessonBrief(read_chart_text(text), (Player(INSTRUMENTS[key], level),), level=level)
    )


def test_a_changing_note_sounds_louder_than_the_rest() -> None:
    """The ear is led to what the page marks."""
    etude = lesson("| C7 | F7 |").players[0].etudes[0]
    sounding = [note for note in etude.notes if note.pitch]
    line = played_line(etude).notes
    loud = {b.velocity for a, b in zip(sounding, line, strict=True) if a.changing}
    soft = {b.velocity for a, b in zip(sounding, line, strict=True) if not a.changing}
    assert min(loud) > max(soft)


def test_the_change_around_the_loop_says_so() -> None:
    made = lesson("| C7 | F7 |")
    changes = handout_for(made, made.players[0]).changes
    assert [change.bars for change in changes] == [("2",), ("1 again",)]


def test_each_chord_shows_its_parent_signature_and_its_other_scales() -> None:
    """A7 for an alto's C7: two sharps of D major; the first choice is not among the others."""
    made = lesson("| C7 | F7 |")
    first = handout_for(made, made.players[0]).chords[0]
    assert (first.scale, first.parent_fifths) == ("A Mixolydian", 2)
    assert first.parent == "parent D major, 2 sharps"
    assert "Mixolydian" not in first.others
    assert first.others


@pytest.mark.slow
def test_a_parent_far_away_is_named_in_its_other_spelling() -> None:
    """No signature of more than seven accidentals is ever named."""
    made = lesson("| Db7alt | Gbm7 | Ab7alt | Dbm7 |", "trumpet")
    for entry in handout_for(made, made.players[0]).chords:
        assert entry.parent_fifths is None or abs(entry.parent_fifths) <= 7


@pytest.mark.slow
def test_marks_are_explained_only_where_they_stand() -> None:
    """No breath for a guitar, no changing note over one chord."""
    winds = lesson("| C7 | F7 |")
    changing, breathe, ghost = handout_for(winds, winds.players[0]).legend
    assert (changing.text, breathe, ghost) == (CHANGING, BREATHE, GHOST)
    assert changing.picture == draw_sign(Mark.CHANGING)
    plain = make_lesson(replace(winds.brief, plain=True))
    assert handout_for(plain, plain.players[0]).legend == (changing, breathe)
    guitar = lesson("| C | % |", "guitar")
    assert handout_for(guitar, guitar.players[0]).legend == (GHOST,)


def test_a_metre_counted_in_eighths_is_never_called_swing() -> None:
    made = lesson("meter: 6/8\nfeel: swing\n| C | G7 |")
    assert made.brief.eighths is Feel.STRAIGHT
    assert made.clock.swing == 1.0
    odd = lesson("meter: 7/8\n| C | G7 |")
    bar = odd.clock.seconds(odd.brief.chart.meter.bar_beats)
    assert odd.clock.seconds(2 * odd.brief.chart.meter.bar_beats) == 2 * bar


@pytest.mark.slow
def test_a_run_names_the_tone_it_is_built_on() -> None:
    """Every notice names it, or the tone where a scale turns before its octave."""
    made = lesson("meter: 3/2\n| Am7 | D7 | G | G |", "clarinet", Level.BEGINNER)
    said = [n.text for etude in made.players[0].etudes for n in etude.notices]
    assert said
    built = [f" on its {tone}" for tone in ("3rd", "5th", "6th", "7th")]
    turns = ("2nd", "3rd", "4th", "5th", "6th", "7th")  # a falling scale turns low
    turned = [f" at its {tone}" for tone in turns]
    assert all(any(words in text for words in built + turned) for text in said)


@pytest.mark.slow
def test_brackets_stay_where_they_part_a_degree_from_a_root() -> None:
    """C(♭5) on an alto is A(♭5), never A♭5."""
    made = lesson("| C(b5) | Dm(maj7) |")
    first, second = (entry.chord for entry in handout_for(made, made.players[0]).chords)
    assert (first.root, first.extension) == ("A", "(♭5)")
    assert (second.quality, second.extension) == ("m", "(maj7)")


@pytest.mark.slow
def test_signs_of_leading_notes_are_explained_where_they_stand() -> None:
    """Step 10 alone has enclosures; each sign is a picture unlike the others."""
    chart = read_chart_text("| Dm7 | G7 | Cmaj7 | A7 |")
    made = make_lesson(LessonBrief(chart, (Player(INSTRUMENTS["guitar"]),), parse_steps("6,9,10")))
    legend = handout_for(made, made.players[0]).legend
    drawn = [entry.picture.svg for entry in legend if entry.picture]
    assert len(set(drawn)) == len(drawn) == 4
    alone = make_lesson(LessonBrief(chart, (Player(INSTRUMENTS["guitar"]),), parse_steps("6")))
    (changing,) = (e for e in handout_for(alone, alone.players[0]).legend if e.picture)
    assert changing.text == CHANGING


@pytest.mark.slow
def test_a_short_handout_differs_in_what_is_said_about_a_chord_alone() -> None:
    made = lesson("| Dm7 | G7b9 | Cmaj7 | A7alt |")
    whole, short = (handout_for(made, made.players[0], short=flag) for flag in (False, True))
    assert (whole.detail, short.detail) == (Detail.STAVES, Detail.NAMES)
    assert replace(short, detail=Detail.STAVES) == whole


def test_a_chord_off_the_beat_is_counted_in_the_same_words_everywhere() -> None:
    made = lesson("| C7 F7 {beat 2.5} | F7 |")
    (player,) = made.players
    assert handout_for(made, player).grid[0].places == ("", "the “and” of 2")
    assert teacher_sheet(made).chords[1].bars == ("1 (the “and” of 2)",)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("chart", "key", "scales"),
    [
        ("| F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | F7 | C7 | Bb7 | F7 | C7 |", "alto-sax",
         ["D minor blues D F G A♭ A C", "D major blues D E F F♯ A B"]),
        ("| Cm7 | Fm7 | Cm7 | Cm7 | Fm7 | Fm7 | Cm7 | Cm7 | Ab7 | G7 | Cm7 | G7 |", "tenor-sax",
         ["D minor blues D F G A♭ A C"]),
        ("| Eb7 | Ab7 | Eb7 | Eb7 | Ab7 | Ab7 | Eb7 | Eb7 | Bb7 | Ab7 | Eb7 | Bb7 |", "trombone",
         ["E♭ minor blues E♭ G♭ A♭ A B♭ D♭", "E♭ major blues E♭ F G♭ G B♭ C"]),
        ("| C | Am7 | Dm7 | G7 |", "alto-sax", []),
    ],
)  # fmt: skip
def test_a_blues_has_its_scales_on_every_sheet(chart: str, key: str, scales: list[str]) -> None:
    """Common practice, no source; without B𝄫 on a student's page."""
    made = lesson(chart, key)
    named = [
        f"{colour.scale} {' '.join(str(tone.pitch.name) for tone in colour.tones)}"
        for colour in handout_for(made, made.players[0]).colours
    ]
    assert named == scales
    assert len(teacher_sheet(made).colours) == len(scales)


@pytest.mark.slow
def test_sections_stand_over_grid_and_staff_after_double_bars() -> None:
    made = lesson("[A]\n| C | G7 |\n[B]\n| F | C |")
    handout = handout_for(made, made.players[0])
    score = handout.steps[0].score
    assert [bar.section for bar in handout.grid] == ["A", "", "B", ""]
    assert [bar.road.section for bar in score.bars] == ["A", "", "B", ""]
    ends = [Barline.SINGLE, Barline.DOUBLE, Barline.SINGLE, Barline.FINAL]
    assert [bar.barline for bar in handout.grid] == ends
    assert [bar.barline for bar in score.bars] == ends


@pytest.mark.slow
def test_a_pickup_stands_before_bar_1_with_its_chord_in_written_pitch() -> None:
    """G7 is E7 to an alto; the line itself begins with the form."""
    made = lesson("{pickup 1} | G7 | C | F . . G7 |")
    handout = handout_for(made, made.players[0])
    first, score = handout.grid[0], handout.steps[0].score
    assert (first.number, first.chords[0].root, first.places) == (0, "E", ("beat 4",))
    assert (score.bars[0].number, score.bars[0].chords[0].root) == (0, "E")
    assert [note.pitch for note in score.bars[0].notes] == [None]
    assert handout.grid[2].places == ("", "beat 4")


def test_tempo_and_feel_stand_at_every_step() -> None:
    made = lesson("tempo: 96\nmeter: 6/8\n| C | G7 |")
    steps = handout_for(made, made.players[0]).steps
    assert {step.manner for step in steps} == {"♩. = 96 · straight"}


def test_the_teacher_reads_what_the_players_read_where_all_read_alike() -> None:
    made = lesson("| C7 | F7 |")
    sheet = teacher_sheet(made)
    assert sheet.chords[0].chord.root == "A"
    assert [bar.functions for bar in sheet.grid] == [("I7",), ("IV7",)]
    assert [entry.heading for entry in sheet.watch] == [s.heading for s in made.brief.steps]
    assert sheet.watch[0].remarks[0].player == "Alto saxophone"
    assert sheet.steps == ()


def test_music_of_beginners_is_never_set_close() -> None:
    made = lesson("| C7 | F7 |", level=Level.BEGINNER)
    assert not handout_for(made, made.players[0]).may_close


def test_a_lesson_that_cannot_be_written_names_the_chord_as_it_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A saxophone with one written note reads D flat major for E; it is told so."""
    only = parse_pitch("D5")
    narrow = INSTRUMENTS["alto-sax"]._replace(compasses=(Compass(only, only),) * 3)
    monkeypatch.setitem(INSTRUMENTS, "alto-sax", narrow)
    with pytest.raises(BriefError, match=r"^no note of (C♯|D♭) lies in the range .* \(bar 2\)"):
        lesson("| F | E |")


@pytest.mark.slow
def test_of_a_class_the_teacher_reads_what_is_most_telling_alone() -> None:
    """A sheet for one player has every sentence; for several one each, and what is not as asked."""
    chart = read_chart_text("| Dm7 | G7 | Cmaj7 | A7 |")
    alto, flute = (Player(INSTRUMENTS[key]) for key in ("alto-sax", "flute"))
    one, both = (
        teacher_sheet(make_lesson(LessonBrief(chart, players, parse_steps("1"))))
        for players in ((alto,), (alto, flute))
    )
    assert len(one.watch[0].remarks[0].sentences) > 1
    assert [remark.player for remark in both.watch[0].remarks] == ["Alto saxophone", "Flute"]
    assert max(len(remark.sentences) for remark in both.watch[0].remarks) <= 2
