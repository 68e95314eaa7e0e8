"""What is offered where a brief cannot be met: rule, bar and a brief that works."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from briefs_over_charts import BriefOverChart, brief_over, midis_of

from halfstep.errors import BriefError
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.offers import (
    FIFTH,
    HEAD_BARS,
    Impossible,
    Offer,
    _and,
    _bar_at,
    _bare_chord,
    _chord_at,
    _head,
    _notes_of,
    _sounding,
    _unknown,
    _with_level,
    _with_range,
    nearest_step,
)  # fmt: skip
from halfstep.etude.steps import STEPS, find_step
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch

FALLING = "key: F\n| C7 | F7 |"
CADENCE = "key: C\n| Dm7 | G7 | Cmaj7 |"
NARROW = brief_over(FALLING, low="C4", high="E4")


def refused(step: str, request: BriefOverChart) -> Impossible:
    with pytest.raises(BriefError) as error:
        write_etude(find_step(step), request.analysis, request.brief)
    assert isinstance(error.value, Impossible)
    return error.value


REFUSALS = [
    ("one-line", brief_over(FALLING, known="C4 C5")),
    ("broken-arpeggio", brief_over(FALLING, low="C4", high="D4")),
    ("cells", brief_over(FALLING, known="C4 E4")),
    ("enclosures", brief_over(CADENCE, known="C4 D4")),
    ("one-line", brief_over(FALLING, instrument="trumpet", known="C4 C5")),
]


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("step", "request_"), REFUSALS, ids=[f"{step}-{n}" for n, (step, _) in enumerate(REFUSALS)]
)
def test_a_refusal_names_what_blocks_where_and_an_offer_that_works(
    step: str, request_: BriefOverChart
) -> None:
    error = refused(step, request_)
    text = str(error)
    bars = [int(number) for number in re.findall(r"bar (\d+)", text)]
    assert bars
    assert set(bars) <= {bar.number for bar in request_.analysis.chart.form}
    assert str(request_.analysis.chords[error.chord].span.symbol) in text
    names_rule = any(rule.text in text for rule in find_step(step).every_rule)
    assert names_rule or "its rules together" in text or "is a tone of" in text or "no note" in text
    assert error.offer is not None
    assert write_etude(error.offer.step, request_.analysis, error.offer.brief).notes
    assert error.offer != error.wanted
    assert "--" not in text


def offered(step: str, request: BriefOverChart, **changes: object) -> str:
    """What an offer with these changes is called."""
    wanted = Offer(find_step(step), request.brief)
    other = changes.pop("other", step)
    offer = Offer(find_step(str(other)), replace(request.brief, **changes))  # type: ignore[arg-type]
    error = Impossible("{chord} blocks", 0, wanted, request.analysis, offer)
    return str(error).removeprefix("C7 blocks; ")


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"other": "scale"}, "step 4 works"),
        ({"other": "echo"}, "step echo works"),
        ({"level": Level.ADVANCED}, "it works at level advanced"),
        ({"limits": (60, 67)}, "it works with the range from C4 to G4"),
        ({"limits": (58, 64)}, "it works with the range from B♭3 to E4"),
    ],
)
def test_an_offer_is_told_by_what_was_not_asked_for(changes: dict[str, object], text: str) -> None:
    assert offered("one-line", NARROW, **changes) == text


def test_known_notes_are_offered_in_the_pitch_that_the_player_reads() -> None:
    trumpet = brief_over(FALLING, instrument="trumpet", known="C4 D4 E4")
    more = frozenset({*(trumpet.brief.known or ()), *midis_of("G4 Bb4")})
    assert offered("one-line", trumpet, known=more) == "it works with written A4 and C5 added"
    assert offered("one-line", trumpet, known=None) == (
        "it works with all notes from written A3 to A5"
    )
    concert = brief_over(FALLING, known="C4 D4 E4")
    assert offered("one-line", concert, known=frozenset(midis_of("C4 D4 E4 Eb5"))) == (
        "it works with E♭5 added"
    )


def test_nothing_to_offer_is_said() -> None:
    error = Impossible("{chord} blocks", 1, Offer(STEPS[0], NARROW.brief), NARROW.analysis, None)
    assert str(error) == (
        "F7 blocks; nothing near it works; try other notes, a wider range or another step"
    )
    assert error.new_notes() == []


def test_a_player_reads_the_chord_of_the_part() -> None:
    trumpet = brief_over(FALLING, instrument="trumpet")
    offer = Offer(find_step("scale"), trumpet.brief)
    error = Impossible("{chord} blocks", 0, offer, trumpet.analysis, offer)
    part = part_for(trumpet.analysis, trumpet.brief.instrument)
    assert error.sentence(part).startswith("D7 blocks; ")
    assert str(error).startswith("C7 blocks; ")


@pytest.mark.parametrize(
    ("names", "text"),
    [("C4", "C4"), ("C4 D4", "C4 and D4"), ("C4 D4 E4", "C4, D4 and E4")],
)
def test_notes_in_a_row(names: str, text: str) -> None:
    assert _and([parse_pitch(name) for name in names.split()]) == text


def test_the_range_is_widened_by_semitones_above_below_and_on_both_sides() -> None:
    low, high = NARROW.brief.limits
    tried = [brief.limits for brief in _with_range(NARROW.brief)]
    assert tried[:4] == [(low, high + 1), (low - 1, high), (low - 1, high + 1), (low, high + 2)]
    assert all(low - FIFTH <= bottom <= low for bottom, _ in tried)
    assert all(high <= top <= high + FIFTH for _, top in tried)
    notes = [_notes_of(brief) for brief in _with_range(NARROW.brief)]
    assert len(set(notes)) == len(notes)
    assert all(more > _notes_of(NARROW.brief) for more in notes)


def test_a_range_that_is_the_instruments_own_is_not_widened() -> None:
    """A piano part at this level ends on C6 and begins on B flat below the staff."""
    assert list(_with_range(brief_over(FALLING).brief)) == []


def test_unknown_notes_come_in_the_order_of_their_distance() -> None:
    brief = replace(brief_over(FALLING, low="C4", high="G4").brief, known=frozenset(midis_of("E4")))
    assert _unknown(brief) == midis_of("Eb4 F4 D4 F#4 C#4 G4 C4")
    assert _unknown(replace(brief, known=frozenset())) == list(range(60, 68))


@pytest.mark.parametrize(
    ("level", "higher"),
    [("beginner", ["intermediate", "advanced"]), ("intermediate", ["advanced"]), ("advanced", [])],
)
def test_levels_are_offered_upwards(level: str, higher: list[str]) -> None:
    brief = brief_over(FALLING, level=level).brief
    assert [other.level.value for other in _with_level(brief)] == higher


def test_the_last_step_before_this_one_that_works_is_named() -> None:
    """With two notes that are in both chords an echo is possible, and little more."""
    request = brief_over(FALLING, known="C4 A4 C5 Eb4 G4 E4")
    step = nearest_step(find_step("chorus"), request.analysis, request.brief)
    assert step is not None
    assert STEPS.index(step) < STEPS.index(find_step("chorus"))
    assert write_etude(step, request.analysis, request.brief).notes
    assert nearest_step(STEPS[0], request.analysis, request.brief) is None


def test_a_chord_of_which_no_tone_is_known_is_found() -> None:
    request = brief_over("key: F\n| C7 | N.C. | F7 |", known="C4 E4")
    assert _bare_chord(request.analysis, request.brief) is None
    other = replace(request.brief, known=frozenset(midis_of("E4 G4")))
    assert _bare_chord(request.analysis, other) == 2
    assert [chord for chord, _ in _sounding(request.analysis)] == [0, 2]
    assert _sounding(request.analysis)[0][1] == {midi % 12 for midi in midis_of("C4 E4 G4 Bb4")}


@pytest.mark.parametrize(("beat", "bar", "chord"), [(0, 1, 0), (2, 1, 1), (5, 2, 2), (8, 3, 3)])
def test_a_beat_lies_in_a_bar_and_a_chord(beat: int, bar: int, chord: int) -> None:
    analysis = brief_over("key: F\n| C7 F7 | Bb7 | F7 |").analysis
    assert _bar_at(analysis, Fraction(beat)) == bar
    assert _chord_at(analysis, Fraction(beat)) == chord


def test_the_head_of_a_long_chart_ends_where_a_chord_begins_with_a_bar() -> None:
    assert _head(brief_over("| C7 |" + " F7 | C7 |" * 4).analysis) is None
    head = _head(brief_over("| C7 |" + " F7 | C7 |" * 10).analysis)
    assert head is not None
    assert head.analysis.chart.beats == 4 * HEAD_BARS
    assert head.sure == 4 * (HEAD_BARS - 1)
    assert len(head.analysis.chords) == HEAD_BARS
    held = _head(brief_over("| C7 |" + " F7 |" * 10 + " C7 | % | % | F7 | C7 |").analysis)
    assert held is not None
    assert held.analysis.chart.beats == 56  # the chord that lasts is not cut
