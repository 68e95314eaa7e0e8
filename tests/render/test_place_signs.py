"""Signs under places of the music: shapes that differ without colour, each at its place."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from halfstep.instruments import Clef
from halfstep.meter import Meter
from halfstep.pitch import UNISON, parse_pitch
from halfstep.render.place_signs import SQUARES, sign_sample
from halfstep.render.score_pictures import draw_place_sign, set_lines
from halfstep.score import PlaceSign, Score, ScoreBar, ScoreNote, SignShape

F = Fraction
QUARTERS = tuple(ScoreNote(parse_pitch(name), F(1)) for name in ("C4", "A3", "F4", "B5"))


def score_with(*signs: PlaceSign) -> Score:
    bar = ScoreBar(1, Meter(4, 4), QUARTERS, signs=signs)
    return Score(
        title="", label="", key_fifths=0, mode="major", clef=Clef.TREBLE, rise=UNISON,
        program=0, tempo_bpm=None, swing=None, bars=(bar, replace(bar, number=2, signs=())),
    )  # fmt: skip


def test_no_two_shapes_are_drawn_alike() -> None:
    drawings = {draw_place_sign(shape).svg for shape in SignShape}
    assert len(drawings) == len(SignShape)


def test_nothing_but_black_is_needed_to_tell_them_apart() -> None:
    for shape in SignShape:
        svg = "".join(drawn.svg for drawn in sign_sample(shape).shapes)
        assert set(re.findall(r"#\w+", svg)) == {"#000"}


@pytest.mark.parametrize("shape", SignShape)
def test_a_sign_stands_at_its_note_and_touches_nothing(shape: SignShape) -> None:
    sign = PlaceSign(F(2), shape, "late")
    (line,) = set_lines(score_with(sign), width_mm=178.0)
    head = line.of("n-0-2", "notehead")
    (drawn,) = [each for each in line.shapes if each.kind == "sign"]
    assert head is not None
    assert abs(drawn.box.left - head.left) < 1
    assert drawn.box.top > line.staff.bottom
    others = [each for each in line.shapes if each.kind not in {"line", "barLine", "sign"}]
    assert not [each for each in others if each.box.meets(drawn.box)]


def test_squares_share_a_line_and_words_stand_under_them() -> None:
    signs = [
        PlaceSign(F(0), SignShape.FULL),
        PlaceSign(F(0), SignShape.FRAMED, "old note"),
        PlaceSign(F(1), SignShape.EMPTY, "missed"),
    ]
    (line,) = set_lines(score_with(*signs), width_mm=178.0)
    drawn = {each.owner: each.box for each in line.shapes if each.kind == "sign"}
    squares = {drawn[str(shape)].top for shape in SQUARES if str(shape) in drawn}
    assert len(squares) == 1
    assert drawn[str(SignShape.FRAMED)].top > drawn[str(SignShape.FULL)].bottom


def test_a_place_between_notes_lies_between_them() -> None:
    (line,) = set_lines(score_with(PlaceSign(F(5, 2), SignShape.FULL)), width_mm=178.0)
    before, after = (line.of(f"n-0-{n}", "notehead") for n in (2, 3))
    (drawn,) = [each for each in line.shapes if each.kind == "sign"]
    assert before is not None
    assert after is not None
    assert before.left < drawn.box.left < after.left


def test_many_words_at_one_place_stand_under_each_other() -> None:
    signs = [PlaceSign(F(1), SignShape.DOTTED, word) for word in ("one", "two", "three")]
    (line,) = set_lines(score_with(*signs), width_mm=178.0)
    boxes = [each.box for each in line.shapes if each.kind == "sign"]
    assert [box.left for box in boxes] == [boxes[0].left] * 3
    assert all(low.top > high.bottom for high, low in pairwise(boxes))
