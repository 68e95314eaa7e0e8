"""Call and response: two bars played, two bars left over the same changes; common practice,
no source.
"""

from __future__ import annotations

from statistics import mean

import pytest
from briefs_over_charts import brief_over, slots_laid_out
from etude_charts import INVENTED
from step_lines import (
    CADENCE,
    broken_rules,
    keeps,
    line_of,
    relative_outline_of,
    rule_of,
    words_on,
)
from typed_lines import typed

from halfstep.etude.calls import ASKS
from halfstep.etude.steps.call_and_response import call_ends

FALLING = "key: F\n| C7 | F7 | C7 | F7 |"
CALL = "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 C5 {}-{{9}}, | r---- | r----"
TWELVE = "key: C\n| Dm7 | G7 | Cmaj7 | % | Dm7 | G7 | Cmaj7 | % | Fmaj7 | G7 | Cmaj7 | % |"


@pytest.mark.sampled
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_two_bars_are_played_and_two_are_left(seed: int, level: str) -> None:
    etude = line_of("call-and-response", brief_over(TWELVE, seed=seed, level=level))
    for note in etude.notes:
        assert (note.pitch is not None) is (int(note.onset // 4) % 4 < 2)
    rests = [note.beats for note in etude.notes if note.pitch is None]
    assert rests == [4] * 6


@pytest.mark.parametrize("seed", range(4))
def test_a_call_asks_on_a_held_tone_that_is_not_the_root(seed: int) -> None:
    etude = line_of("call-and-response", brief_over(TWELVE, seed=seed))
    for beat in (8, 24, 40):
        last = next(note for note in etude.notes if note.end == beat)
        assert last.beats >= 1
        assert last.degree is not None
        assert last.degree.number in {3, 5, 7}


def test_only_the_ends_of_calls_ask() -> None:
    slots = slots_laid_out("call-and-response", brief_over(TWELVE))
    asking = [slot.onset + slot.beats for slot in slots if slot.motif == ASKS]
    assert asking == [8, 24, 40]
    assert all(slot.closes for slot in slots if slot.motif == ASKS)


def test_a_form_that_ends_on_a_call_may_come_home() -> None:
    """Of five bars the fifth is played, and nobody answers it."""
    request = brief_over("key: C\n| Dm7 | G7 | Cmaj7 | Am7 | Dm7 |")
    slots = slots_laid_out("call-and-response", request)
    assert slots[-1].last
    assert slots[-1].motif is None
    assert slots[-1].palette is not None


ROOT = "a call that is answered does not end on the root"


@pytest.mark.parametrize(
    ("end", "broken"),
    [
        ("F4 A4", set()), ("A4 Eb4", set()), ("A4 C4", set()), ("A4 F4", {ROOT}),
        ("F4 D4", {ROOT}), ("A4 Bb4", {ROOT}),
    ],
)  # fmt: skip
def test_where_a_call_may_end(end: str, broken: set[str]) -> None:
    """Over F7; a note that is no tone of it is no open end either."""
    assert broken_rules("call-and-response", FALLING, CALL.format(end)) == broken


@pytest.mark.parametrize(
    ("note", "kept"), [("C4", False), ("E4", True), ("G4", True), ("Bb4", True), ("D4", False)]
)
def test_an_open_end_is_any_other_tone_of_the_chord(note: str, kept: bool) -> None:
    slots = typed("call-and-response", FALLING, "C5-- E4--{9} | F4----")[1]
    assert keeps(rule_of("call-and-response", "a call that is answered"), slots[1:2], note) is kept


def test_where_only_the_root_is_known_a_call_may_end_on_it() -> None:
    request = brief_over("key: F\n| C7 | F7 | C7 | F7 |", known="C4 D4 F4")
    slots = slots_laid_out("call-and-response", request)
    asking = [slot for slot in slots if slot.motif == ASKS]
    rule = rule_of("call-and-response", "a call that is answered")
    assert keeps(rule, asking, "C4")  # the fifth of F7
    assert not keeps(rule, asking, "F4")
    only = brief_over("key: F\n| F7 | F7 | C7 | F7 |", known="C4 F4")
    first = [slot for slot in slots_laid_out("call-and-response", only) if slot.motif == ASKS]
    assert keeps(rule, first, "C4")


@pytest.mark.parametrize(
    ("chart", "line", "text"),
    [
        ("key: C\n| Dm7 | G7 | Cmaj7 | % |", "D4---- | G4-- B4--, | r---- | r----",
         "The first call ends on B, the third of G7: keep it in your ear and begin your answer "
         "there."),
        ("key: F\n| Gm7 | C7 | F7 | % |", "G4---- | C5-- E4--, | r---- | r----",
         "The first call ends on E, the third of C7: over F7 it becomes E♭, and your answer can "
         "begin there."),
    ],
)  # fmt: skip
def test_the_note_an_answer_can_begin_from_fits_where_the_answer_is(
    chart: str, line: str, text: str
) -> None:
    """What is answered must fit the chords where it is played."""
    assert words_on(call_ends, "call-and-response", chart, line) == text


def test_a_line_over_half_a_form_is_left_half() -> None:
    etude = line_of("call-and-response", brief_over(CADENCE, seed=3))
    played = {int(note.onset // 4) for note in etude.notes if note.pitch}
    assert played == {0, 1, 4, 5}


@pytest.mark.slow
def test_calls_tell_half_of_what_the_plain_arpeggio_does_though_played_back() -> None:
    """On the mean of charts that its costs were not chosen on; the measure is the program's own."""
    requests = [brief_over(c, seed=n) for c in INVENTED.values() for n in (1, 2)]
    lines = [line_of("call-and-response", request) for request in requests]
    assert mean(map(relative_outline_of, lines)) >= 0.5
