"""What a player is told is what stands in the notes."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise

import pytest
from etude_charts import INVENTED, NAMES_OF_STEPS

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.explanation import explained
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import Part, part_for
from halfstep.pitch import Degree, parse_pitch
from halfstep.progression.chart import Bar
from halfstep.score import Mark, ScoreNote
from typed_charts import read_chart_text

CHARTS = ("evening class", "minor", "waltz", "six eight")


@cache
def made(
    step: str, chart: str = "evening class", key: str = "alto-sax", *, level: str = "intermediate"
) -> tuple[Etude, Part]:
    wanted, instrument = Level(level), INSTRUMENTS[key]
    analysis = analyse(read_chart_text(INVENTED.get(chart, chart)), level=wanted)
    etude = write_etude(find_step(step), analysis, Brief(instrument, wanted, 100.0, 3))
    return etude, part_for(analysis, instrument)


def written(etude: Etude, part: Part) -> dict[int, list[ScoreNote]]:
    """The struck notes of each bar as the page has them."""
    score = score_of(etude, part, title="", feel=Feel.SWING)
    return {bar.number: [note for note in bar.notes if note.pitch] for bar in score.bars}


@pytest.mark.slow
@pytest.mark.parametrize("chart", CHARTS)
def test_every_step_says_two_to_four_sentences_of_its_own(chart: str) -> None:
    said = {step: explained(*made(step, chart)) for step in NAMES_OF_STEPS}
    assert {step for step, told in said.items() if not 2 <= len(told) <= 4} == set()
    assert len({told[0] for told in said.values()}) == len(NAMES_OF_STEPS)
    assert len(set(said.values())) == len(NAMES_OF_STEPS)


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES_OF_STEPS)
def test_every_sentence_is_whole(step: str) -> None:
    """A capital, a full stop or dots, no gap left open, and no name with a double blank."""
    for told in explained(*made(step, "twelve bars", "guitar")):
        assert re.fullmatch(r"[A-Z0-9].*([^.…]\.| …)", told)
        assert "None" not in told
        assert "  " not in told
        assert " ," not in told


def test_the_highest_note_is_the_highest_on_the_page() -> None:
    etude, part = made("chorus")
    told = next(each for each in explained(etude, part) if "highest" in each)
    found = re.search(r"highest at ([^ ,]+)(?:, first)? in bar (\d+)", told)
    assert found
    bars = written(etude, part)
    top = max(note.pitch.midi for own in bars.values() for note in own if note.pitch)
    heights = {str(n.pitch): n.pitch.midi for n in bars[int(found[2])] if n.pitch}
    assert heights[found[1]] == top


def test_the_highest_note_sounds_where_another_library_puts_it() -> None:
    """Source: music21's alto saxophone, which sounds a major sixth below its part."""
    music21 = pytest.importorskip("music21")
    etude, part = made("one-line")
    told = next(each for each in explained(etude, part) if "highest" in each)
    name = re.findall(r"highest at ([^ ,]+)", told)[0].replace("♯", "#").replace("♭", "-")
    sounding = music21.pitch.Pitch(name).transpose(music21.instrument.AltoSaxophone().transposition)
    assert sounding.midi == max(note.pitch.midi for note in etude.notes if note.pitch)


def test_breaths_are_named_where_the_page_marks_them() -> None:
    etude, part = made("arpeggio", "sixteen bars")
    told = next(each for each in explained(etude, part) if "Breathe" in each)
    marked = [
        number
        for number, notes in written(etude, part).items()
        if any(Mark.BREATH in note.marks for note in notes)
    ]
    assert [int(each) for each in re.findall(r"\d+", told)] == marked[:-1]  # the end needs none


@pytest.mark.slow
def test_a_player_who_need_not_breathe_is_not_told_to() -> None:
    for step in NAMES_OF_STEPS:
        assert not any("reathe" in told for told in explained(*made(step, key="guitar")))


def test_two_notes_that_enclose_a_third_lie_around_it() -> None:
    etude, part = made("enclosures")
    told = explained(etude, part)[0]
    found = re.match(r"Play (\S+) and (\S+) before (\S+), .*? in bar (\d+)", told)
    assert found
    notes = [n.pitch for own in written(etude, part).values() for n in own if n.pitch]
    around = [
        (a.midi - goal.midi) * (b.midi - goal.midi)
        for (a, b), goal in zip(pairwise(notes), notes[2:], strict=False)
        if [str(each.name) for each in (a, b, goal)] == [found[1], found[2], found[3]]
    ]
    assert around
    assert max(around) < 0


def test_a_changing_note_is_told_with_the_note_it_comes_from() -> None:
    """A7 to D7: only the C♯ becomes C; an alto reads F♯7 to B7, and A♯ becomes A."""
    told = explained(*made("scale", "key: D\n| A7 | D7 |"))
    assert told[0] == "Listen for what changes: A♯ becomes A in bar 2."


def test_chromatic_approach_notes_are_counted() -> None:
    etude, part = made("approach-notes")
    told = explained(etude, part)[0]
    marks = [note.marks for own in written(etude, part).values() for note in own]
    leading = sum(bool(each & (Mark.LEADS | Mark.LEADS_CHROMATIC)) for each in marks)
    chromatic = sum(Mark.LEADS_CHROMATIC in each for each in marks)
    assert told.startswith(f"{chromatic} of {leading} approach notes")


def test_a_beginner_hears_of_no_note_outside_the_scale() -> None:
    told = explained(*made("approach-notes", level="beginner"))
    assert told[0].startswith("The approach notes are all in the scale")


def test_the_bars_of_an_answer_are_empty_on_the_page() -> None:
    etude, part = made("call-and-response")
    told = explained(etude, part)[0]
    assert told == "Bars 3–4, 6 and 8 are yours."  # two from bar 5 on would not fit bars 7–8
    assert [n for n, notes in written(etude, part).items() if not notes] == [3, 4, 6, 8]


def test_a_line_of_rests_is_not_explained() -> None:
    etude, part = made("broken-arpeggio")
    silent = replace(etude, notes=tuple(note._replace(pitch=None) for note in etude.notes))
    assert explained(silent, part) == ()


def test_one_chord_has_no_change_to_hear() -> None:
    told = explained(*made("scale", "| C | % |"))
    assert not any("changes" in each for each in told)


PLAYERS = (("evening class", "flute"), ("minor", "alto-sax"), ("six eight", "tenor-sax"))
FAR = "| Gbmaj7 | Ab7 | Abm7 | Db7 | Gbmaj7 | Cbmaj7 | Abm7 Db7 | Gb6 |"
STOPPED = "| Fmaj7 | N.C. | Gm7 C7 | N.C. Fmaj7 | Bb7 | N.C. | % | Fmaj7 |"
NAME = r"([A-G][♭♯𝄫𝄪]?)"


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(("chart", "key"), [*PLAYERS, (FAR, "alto-sax"), (STOPPED, "trombone")])
def test_two_notes_told_together_stand_together_on_the_page(chart: str, key: str) -> None:
    """``C to E in bar 3``, ``G♯ into A in bar 1``: the page has them, one after the other."""
    told_of = 0
    for step in ("turning-scale", "approach-notes", "chorus"):
        etude, part = made(step, chart, key)
        notes = [
            (number, str(note.pitch.name))
            for number, own in written(etude, part).items()
            for note in own
            if note.pitch
        ]
        beside = [(old[1], new[1], old[0], new[0]) for old, new in pairwise(notes)]
        for told in explained(etude, part):
            for old, new, bars in re.findall(rf"{NAME} (?:into|to) {NAME} in bars? (\d+)", told):
                told_of += 1
                near = [each for each in beside if each[:2] == (old, new)]
                assert int(bars) in {number for each in near for number in each[2:]}
    assert told_of


@pytest.mark.parametrize("chart", ["twelve bars", FAR])
@pytest.mark.parametrize("key", ["flute", "alto-sax", "tenor-sax"])
def test_runs_that_are_told_to_rise_only_rise(chart: str, key: str) -> None:
    etude, part = made("scale", chart, key)
    told = next(each for each in explained(etude, part) if each.startswith("The line goes"))
    heights = {
        number: [note.pitch.midi for note in own if note.pitch]
        for number, own in written(etude, part).items()
    }
    lone = {bar.number for bar, _ in etude.analysis.chart.placed() if len(bar.chords) < 2}
    for verb, way in (("all the way up", 1), ("all the way down", -1)):
        listed = re.search(rf"{verb} in bars? ([\d–, ]+(?:and [\d–]+)?)", told)
        assert listed
        for number in numbers(listed[1]) & lone:
            own = heights[number]
            assert sorted(own, reverse=way < 0) == own
            assert len(set(own)) == len(own)


def numbers(text: str) -> set[int]:
    """The bars of a text like ``1, 3–4 and 7``."""
    ends = re.findall(r"(\d+)(?:–(\d+))?", text)
    return {n for low, high in ends for n in range(int(low), int(high or low) + 1)}


def test_a_bar_without_a_chord_is_nobodys_answer() -> None:
    """Bar 7 holds the silence of bar 6 on; of bar 4 half is left."""
    told = explained(*made("call-and-response", STOPPED))[0]
    assert told == "Bars 3–4 and 8 are yours."


@pytest.mark.parametrize(
    ("last", "wanted"),
    [
        ("A4", "the third of F7: over Fm7 it becomes A♭, and your answer can begin there."),
        ("C5", "the fifth of F7: keep it in your ear and begin your answer there."),
    ],
)
def test_the_end_of_a_call_moves_where_the_next_chord_lacks_it(last: str, wanted: str) -> None:
    """F7 to Fm7: the A becomes A flat and the C stays."""
    etude, part = made("call-and-response", "key: F\n| F7 | % | Fm7 | % |", "flute")
    pitch, degree = parse_pitch(last), {"A4": Degree(3), "C5": Degree(5)}[last]
    call = etude.notes[0]._replace(onset=Fraction(0), beats=Fraction(8), pitch=pitch, degree=degree)
    rest = call._replace(onset=Fraction(8), pitch=None, degree=None, chord=1)
    told = explained(replace(etude, notes=(call, rest)), part)
    assert told[1] == f"The first call ends on {pitch.name}, {wanted}"


def test_only_the_tonic_is_home() -> None:
    """A chart that turns around on its dominant closes its last answer, but not at home."""
    home = explained(*made("question", "key: C\n| C6 | F6 | G7 | C6 |", "flute"))
    away = explained(*made("question", "key: C\n| C6 | F6 | C6 | G7 |", "flute"))
    assert any("comes home to C in bar 4" in told for told in home)
    assert any(re.search(r"closes on G in bar 4.*, the root of G7\.", told) for told in away)


def test_a_repeated_tone_is_told_once_with_all_its_bars() -> None:
    for chart, key in PLAYERS:
        told = explained(*made("arpeggio-in-rhythm", chart, key))[0]
        listed = re.findall(rf"{NAME} in bars? ", told)
        assert len(listed) == len(set(listed))


def test_a_colour_that_is_told_to_change_changes() -> None:
    for chart, key in PLAYERS:
        for told in explained(*made("rhythm", chart, key)):
            if "colour" in told:
                roles = re.findall(r"the ((?:flat |sharp )?\w+) of", told)
                assert len(roles) == len(set(roles)) > 1


def test_a_pickup_is_not_counted() -> None:
    """The second whole bar is bar 2, as on the page."""
    chart = read_chart_text("key: C\n| Cmaj7 | C7 | Fmaj7 | % |")
    pickup = Bar(0, chart.meter, Fraction(1), (), 0)
    analysis = analyse(replace(chart, bars=(pickup, *chart.bars)), level=Level.INTERMEDIATE)
    etude = write_etude(
        find_step("scale"), analysis, Brief(INSTRUMENTS["flute"], Level.INTERMEDIATE, 100.0, 3)
    )
    told = explained(etude, part_for(analysis, INSTRUMENTS["flute"]))
    assert "B becomes B♭ in bar 2" in told[0]
