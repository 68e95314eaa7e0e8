"""The signs at notes: under the staff, told apart without colour, pointing to what they mean.

That lozenges, circles, crosses, wedges, dashes, ticks and figures at a note have meanings of
their own for wind and string players is common practice; SMuFL 1.4 has them among harmonics,
articulations, string and brass techniques.
"""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.render.drawn_line import SPACE, DrawnLine
from halfstep.render.glyphs import text_run
from halfstep.render.note_signs import NEW, LeadArrow, sample_line
from halfstep.render.score_pictures import MM, draw_sign, set_lines
from halfstep.score import LEADING, Barline, Mark, ScoreBar, ScoreNote
from written_scores import COMMON, line, part

SIGNS = (Mark.CHANGING, Mark.LEADS, Mark.LEADS_CHROMATIC, Mark.ENCLOSES)
places = st.floats(0, 9000)


def marked(text: str, *marks: Mark, beats: object = 1) -> ScoreBar:
    """A bar whose notes have these marks, the others none."""
    notes = line(text, beats)
    several = [*marks, *[Mark.NONE] * (len(notes) - len(marks))]
    return ScoreBar(
        1,
        COMMON,
        tuple(ScoreNote(n.pitch, n.beats, m) for n, m in zip(notes, several, strict=True)),
    )


def drawn(*bars: ScoreBar, width_mm: float = 120.0, a_system: int = 4) -> tuple[DrawnLine, ...]:
    return set_lines(part(*bars, bars_a_system=a_system), width_mm=width_mm)


def arrows(music: DrawnLine) -> list[tuple[list[float], float]]:
    """Each arrow's feet, and where it ends."""
    shapes = [shape for shape in music.shapes if shape.kind == "leading"]
    return [([float(x) for x in re.findall(r"M(\S+) \S+V", s.svg)], s.box.right) for s in shapes]


def middle(music: DrawnLine, name: str) -> float:
    head = music.of(name, "notehead")
    assert head
    return (head.left + head.right) / 2


def test_no_two_signs_are_alike_without_colour() -> None:
    pictures = [draw_sign(mark).svg for mark in SIGNS]
    assert all(one != other for one, other in combinations(pictures, 2))
    colours = {c for svg in pictures for c in re.findall(r'(?:fill|stroke)="([^"]*)"', svg)}
    assert colours <= {"none", "#000"}


def test_every_mark_that_leads_and_the_changing_note_have_a_sign() -> None:
    """A breath is set from the music font, a tie is the engraver's."""
    signs = Mark.NONE
    for mark in SIGNS:
        assert sample_line(mark).shapes
        signs |= mark
    assert signs == LEADING | Mark.CHANGING


def test_a_stroke_is_seen_in_any_print() -> None:
    """A quarter of a millimetre and more on our staff: twice a staff line is thick."""
    for mark in SIGNS[1:]:
        strokes = {float(s) for s in re.findall(r'stroke-width="([\d.]+)"', draw_sign(mark).svg)}
        assert min(strokes) * MM > 0.25


@given(places, st.floats(2 * SPACE, 12 * SPACE), places, st.booleans(), st.booleans())
def test_an_arrow_lies_in_its_box_and_ends_at_its_tip(
    left: float, length: float, y: float, broken: bool, headed: bool
) -> None:
    arrow = LeadArrow((left, left + length / 3), left + length, broken=broken, headed=headed)
    box, svg = arrow.box(y), arrow.svg(y)
    across = [float(x) for x in re.findall(r"[MH](-?[\d.]+)", svg)]
    across += [float(x) for x in re.findall(r"(-?[\d.]+),", svg)]
    assert box.left - 0.1 <= min(across)
    assert max(across) == pytest.approx(arrow.tip, abs=0.1 if headed or not broken else SPACE)
    assert svg.count("polygon") == headed


def test_only_a_note_from_outside_the_scale_has_a_broken_arrow() -> None:
    strokes = {mark: draw_sign(mark).svg.count("H") for mark in SIGNS[1:]}
    assert strokes[Mark.LEADS] == strokes[Mark.ENCLOSES] == 1
    assert strokes[Mark.LEADS_CHROMATIC] > 2


def test_an_arrow_goes_from_its_note_to_the_next() -> None:
    (music,) = drawn(marked("C5 B4 C5 E5", Mark.NONE, Mark.LEADS))
    (((foot,), tip),) = arrows(music)
    assert middle(music, "n-0-1") < foot < tip < middle(music, "n-0-2")


def test_the_arrow_of_an_enclosure_has_a_foot_under_both_its_notes() -> None:
    (music,) = drawn(marked("D5 B4 C5 E5", Mark.ENCLOSES, Mark.ENCLOSES))
    (((first, second), tip),) = arrows(music)
    assert middle(music, "n-0-0") < first < middle(music, "n-0-1") < second
    assert second < tip < middle(music, "n-0-2")


def test_two_enclosures_in_a_row_are_two_arrows() -> None:
    (music,) = drawn(marked("D5 B4 E5 C5 D5", *[Mark.ENCLOSES] * 4, beats="1/2 1/2 1/2 1/2 2"))
    assert [len(feet) for feet, _ in arrows(music)] == [2, 2]


def test_an_arrow_passes_over_rests_and_what_its_note_is_tied_to() -> None:
    music = drawn(
        marked("C5 B4 B4 r", Mark.NONE, Mark.LEADS | Mark.TIE), marked("C5 E5 G5 C5"), width_mm=180
    )[0]
    ((_, tip),) = arrows(music)
    assert middle(music, "n-0-2") < tip < middle(music, "n-1-0")


def test_an_arrow_to_the_next_line_runs_to_the_edge_without_a_head() -> None:
    last = marked("C5 E5 G5 B4", Mark.NONE, Mark.NONE, Mark.NONE, Mark.LEADS)
    goal = marked("C5 E5 G5 C5")
    first, _ = drawn(goal, last, goal, goal, a_system=2)
    ((_, tip),) = arrows(first)
    assert tip == first.staff.right
    assert not any("polygon" in s.svg for s in first.shapes if s.kind == "leading")


def test_words_and_arrows_stand_under_the_staff_on_a_line_each() -> None:
    both = Mark.CHANGING | Mark.LEADS
    (music,) = drawn(marked("E4 F5 C6 G3", both, both, both, Mark.CHANGING))
    tops = {
        kind: {round(s.box.top) for s in music.shapes if s.kind == kind}
        for kind in ("changing", "leading")
    }
    assert [len(heights) for heights in tops.values()] == [1, 1]
    (words,), (arrow,) = tops.values()
    assert music.staff.bottom < words < arrow


def test_two_changing_notes_close_together_are_both_named() -> None:
    sixteenths = marked("C5 D5 E5 F5 G5 A5 B5 C6", *[Mark.CHANGING] * 8, beats="1/4 " * 8)
    bar = ScoreBar(1, COMMON, (*sixteenths.notes, *line("C5", 2)), barline=Barline.FINAL)
    (music,) = drawn(bar, width_mm=60)
    boxes = [shape.box for shape in music.shapes if shape.kind == "changing"]
    assert len(boxes) == 8
    assert not any(one.meets(other) for one, other in combinations(boxes, 2))


def test_the_word_is_set_in_letters() -> None:
    shape = sample_line(Mark.CHANGING).shapes[0]
    assert shape.svg.count("<path") == text_run(NEW, 1.0).svg.count("<path") == len(NEW)
