"""Sections, endings and jumps over a line of music: there, in their place, touching nothing.

Places are common practice, no source; SMuFL 1.4 for the code points of the signs.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from halfstep.render.drawn_line import DrawnLine
from halfstep.render.glyphs import glyph_path, music_glyph
from halfstep.render.road_signs import EndingBracket, ending_brackets
from halfstep.render.score_pictures import set_lines
from halfstep.road_words import LAST_TIME
from halfstep.score import Barline, ChordText, Road, Score, ScoreBar, ScoreNote
from written_scores import COMMON, part

ROAD_KINDS = {"section", "ending", "sign", "words"}


def bar(number: int, **road: object) -> ScoreBar:
    chord = ChordText(Fraction(0), root="B♭", extension="13♯11", kind="other")
    rest = ScoreNote(None, Fraction(4))
    return ScoreBar(number, COMMON, (rest,), chords=(chord,), road=Road(**road), slashes=True)


def music(*bars: ScoreBar, a_system: int = 4) -> Score:
    return replace(part(*bars), bars_a_system=a_system)


WHOLE = music(
    bar(1, section="A", signs=("segno",), forward=True),
    bar(2),
    bar(3, ending=(1, 2), backward=3, ending_stops=(1, 2)),
    bar(4, ending=(3,), ending_stops=(3,), signs=("to coda",)),
    bar(5, section="Bridge", signs=("coda",)),
    bar(6, signs=("D.S. al Coda",)),
    bar(7, signs=("fine",)),
)


def of_kind(line: DrawnLine, kind: str) -> list:
    return [shape for shape in line.shapes if shape.kind == kind]


def test_what_says_the_order_stands_over_the_chords_and_touches_nothing() -> None:
    lines = set_lines(WHOLE, width_mm=180)
    drawn = [shape.kind for line in lines for shape in line.shapes if shape.kind in ROAD_KINDS]
    assert sorted(drawn) == sorted(["section"] * 2 + ["ending"] * 2 + ["sign"] * 2 + ["words"] * 4)
    for line in lines:
        added = [s for s in line.shapes if s.kind in ROAD_KINDS | {"chord", "number"}]
        for place, one in enumerate(added):
            assert one.box.bottom < line.staff.top
            assert not any(one.box.meets(other.box) for other in added[place + 1 :])


def test_a_section_begins_a_line_and_stands_at_its_left() -> None:
    first, second = set_lines(WHOLE, width_mm=180)
    assert list(first.bars) == ["b-0", "b-1", "b-2", "b-3"]
    assert list(second.bars) == ["b-4", "b-5", "b-6"]
    (letter,) = of_kind(second, "section")
    assert letter.box.left < second.chord_lefts["c-4-0"]


def test_short_sections_do_not_break_a_line_each() -> None:
    short = music(*(bar(n + 1, section="AB"[n // 2 % 2] if n % 2 == 0 else "") for n in range(8)))
    assert [len(line.bars) for line in set_lines(short, width_mm=180)] == [4, 4]


def test_a_lone_last_bar_stays_on_the_line_before() -> None:
    five = music(*(bar(n + 1) for n in range(13)))
    assert [len(line.bars) for line in set_lines(five, width_mm=180)] == [4, 4, 5]


def test_signs_are_those_of_the_music_font() -> None:
    """SMuFL: segno U+E047, coda U+E048."""
    drawn = "".join(shape.svg for line in set_lines(WHOLE, width_mm=180) for shape in line.shapes)
    for code in (0xE047, 0xE048):
        assert f'd="{music_glyph(code).path}"' in drawn
        assert glyph_path(music_glyph(code), 0, 0, 1)


def test_an_ending_runs_to_where_it_stops() -> None:
    assert list(ending_brackets(WHOLE)) == [
        EndingBracket(2, 2, (1, 2), True),
        EndingBracket(3, 3, (3,), False),
    ]


def test_an_ending_that_nothing_stops_runs_to_the_next_or_to_the_end() -> None:
    score = music(bar(1, ending=(1,)), bar(2), bar(3, ending=(2,)), bar(4))
    assert [(b.first, b.last) for b in ending_brackets(score)] == [(0, 1), (2, 3)]


def test_a_bracket_goes_on_over_the_next_line_at_one_height_a_line() -> None:
    score = music(bar(1), bar(2, ending=(1,)), bar(3), bar(4, ending_stops=(1,)), a_system=2)
    first, second = set_lines(score, width_mm=180)
    (begun,), (gone_on,) = of_kind(first, "ending"), of_kind(second, "ending")
    assert begun.box.right == pytest.approx(first.staff.right, abs=100)
    assert gone_on.box.left == pytest.approx(second.staff.left, abs=100)


@pytest.mark.parametrize(
    ("passes", "text"),
    [((1,), "1."), ((1, 2), "1. 2."), ((1, 2, 3), "1.–3."), ((1, 3), "1. 3.")],
)  # fmt: skip
def test_an_ending_names_its_passes(passes: tuple[int, ...], text: str) -> None:
    assert EndingBracket(0, 0, passes, False).text == text


def test_repeats_are_bar_lines_with_dots_inside_the_bars_they_enclose() -> None:
    (line,) = set_lines(music(bar(1, forward=True), bar(2, backward=2)), width_mm=120)
    dots = [s for s in of_kind(line, "barLine") if s.svg.count(music_glyph(0xE044).path)]
    assert len(dots) == 4
    assert all(line.staff.left < dot.box.left < line.staff.right for dot in dots)


def test_two_repeats_that_meet_share_a_bar_line() -> None:
    meeting = music(bar(1, backward=2), bar(2, forward=True), bar(3))
    apart = music(bar(1), bar(2, forward=True), bar(3))
    counts = []
    for score in (meeting, apart):
        (line,) = set_lines(score, width_mm=160)
        counts.append(sum(s.svg.count(music_glyph(0xE044).path) for s in of_kind(line, "barLine")))
    assert counts == [4, 2]


def test_the_bar_of_the_last_time_stays_on_its_line_and_says_so_over_its_chord() -> None:
    """Its words begin where its chord does, over it, behind the double bar."""
    before = (bar(n + 1) for n in range(7))
    last = bar(9, signs=(LAST_TIME,))
    *_, line = set_lines(
        music(*before, replace(bar(8), barline=Barline.DOUBLE), last), width_mm=180
    )
    assert list(line.bars) == ["b-4", "b-5", "b-6", "b-7", "b-8"]
    (words,) = of_kind(line, "words")
    assert words.box.left == pytest.approx(line.chord_lefts["c-8-0"], abs=1)
    assert words.box.left >= line.bars["b-8"].left
    chord = max(of_kind(line, "chord"), key=lambda shape: shape.box.left)
    assert words.box.bottom < chord.box.top


def test_a_double_bar_is_drawn_before_a_section() -> None:
    plain = music(bar(1), bar(2))
    double = music(replace(bar(1), barline=Barline.DOUBLE), bar(2))
    one, two = (
        len(of_kind(set_lines(score, width_mm=120)[0], "barLine")) for score in (plain, double)
    )
    assert two == one + 1
