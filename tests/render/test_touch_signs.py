"""Scoops, falls and loudness on a staff: each at its note, and clear of all else."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from halfstep.render.drawn_line import DrawnLine
from halfstep.render.engraver import HEAD_BRACKET
from halfstep.render.score_pictures import draw_sign, draw_systems, set_lines
from halfstep.score import Dynamic, Mark, Score, ScoreBar
from written_scores import COMMON, line, part


def drawn(score: Score) -> DrawnLine:
    (music,) = set_lines(score, width_mm=178.0)
    return music


def marked(text: str, marks: tuple[Mark, ...], beats: object = 1) -> Score:
    notes = zip(line(text, beats), marks, strict=True)
    return part(ScoreBar(1, COMMON, tuple(replace(note, marks=mark) for note, mark in notes)))


@pytest.mark.parametrize("pitch", ["A3", "Bbb4", "F#5", "E6"])
@pytest.mark.parametrize("mark", [Mark.SCOOP, Mark.FALL])
def test_a_bend_stands_at_its_head_and_touches_nothing(mark: Mark, pitch: str):
    music = drawn(marked(f"C5 {pitch} Ab5 G5", (Mark.NONE, mark, Mark.NONE, Mark.NONE)))
    (bend,) = [shape for shape in music.shapes if shape.kind == "bend"]
    head = music.of("n-0-1", "notehead")
    assert head
    at_left = bend.box.right <= head.left
    assert at_left if mark is Mark.SCOOP else bend.box.left >= head.right
    others = [s for s in music.shapes if s is not bend and s.kind not in {"line", "barLine"}]
    assert not any(bend.box.meets(shape.box) for shape in others)


def test_letters_of_loudness_stand_under_their_note():
    score = marked("C5 D5 E5 F5", (Mark.NONE,) * 4)
    bar = score.bars[0]
    loud = replace(bar.notes[2], dynamic=Dynamic.FORTE)
    music = drawn(replace(score, bars=(replace(bar, notes=(*bar.notes[:2], loud, bar.notes[3])),)))
    (sign,) = [shape for shape in music.shapes if shape.kind == "dynamic"]
    head = music.of("n-0-2", "notehead")
    assert head
    assert sign.box.left < (head.left + head.right) / 2 < sign.box.right
    assert sign.box.top > music.staff.bottom


def test_brackets_of_a_ghost_note_are_no_heads():
    """A page asks where the heads are: a ghost note has one."""
    score = marked("C5 D5 E5 F5 G5 F5 E5 D5", (Mark.GHOST,) * 8, Fraction(1, 2))
    (picture,) = draw_systems(score, width_mm=178.0)
    assert len(picture.heads_mm) == 8
    assert sum(shape.kind == HEAD_BRACKET for shape in drawn(score).shapes) == 16


def test_a_slur_over_the_edge_of_a_line_is_drawn_on_both():
    bars = [
        ScoreBar(n, COMMON, tuple(replace(note, marks=mark) for note in line("C5 E5", 2)))
        for n, mark in enumerate((Mark.NONE, Mark.SLUR, Mark.NONE, Mark.NONE), 1)
    ]
    last = bars[1].notes[0]
    bars[1] = replace(bars[1], notes=(replace(last, marks=Mark.NONE), bars[1].notes[1]))
    lines = set_lines(replace(part(*bars), bars_a_system=2), width_mm=178.0)
    assert [any(shape.kind == "slur" for shape in music.shapes) for music in lines] == [True, True]


@pytest.mark.parametrize("mark", [Mark.SCOOP, Mark.FALL])
def test_a_legend_shows_a_bend(mark: Mark):
    assert "<path" in draw_sign(mark).svg
