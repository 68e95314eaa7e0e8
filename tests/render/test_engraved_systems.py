"""A line of music that is drawn alone, or after an edit, is drawn as it is among all others."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.meter import Meter
from halfstep.render import engraved_systems
from halfstep.render.engraved_systems import forget_engraving, natural_widths
from halfstep.render.engraver import EngravingFault, engraved, read_line
from halfstep.render.mei import mei_bars, score_mei
from halfstep.render.score_pictures import draw_systems
from halfstep.score import Mark, Score, ScoreBar, ScoreNote
from written_scores import COMMON, line, part, rhythm, rhythmic_bars, whole_scores

WIDTH_MM = 120.0


@pytest.fixture(autouse=True)
def _anew() -> Iterator[None]:
    forget_engraving()
    yield
    forget_engraving()


@st.composite
def edited(draw: st.DrawFn) -> tuple[Score, Score]:
    """A score, and the same with one bar written anew."""
    score = draw(whole_scores(max_bars=6))
    place = draw(st.integers(0, len(score.bars) - 1))
    old = score.bars[place]
    new = draw(rhythmic_bars(old.number, old.meter))
    marks = draw(st.sampled_from((Mark.NONE, Mark.TIE)))
    last = replace(new.notes[-1], marks=marks if new.notes[-1].pitch else Mark.NONE)
    bar = replace(old, notes=(*new.notes[:-1], last))
    return score, replace(score, bars=(*score.bars[:place], bar, *score.bars[place + 1 :]))


@pytest.mark.slow
@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow])
@given(edited())
def test_after_an_edit_the_music_looks_as_if_it_were_drawn_whole(scores: tuple[Score, Score]):
    before, after = scores
    forget_engraving()
    draw_systems(before, width_mm=WIDTH_MM)
    kept = draw_systems(after, width_mm=WIDTH_MM)
    forget_engraving()
    assert kept == draw_systems(after, width_mm=WIDTH_MM)


def eighths(number: int, text: str = "C5 D5 E5 G5 F5 E5 D5 C5", **more: object) -> ScoreBar:
    return ScoreBar(number, COMMON, line(text, Fraction(1, 2)), **more)  # type: ignore[arg-type]


def with_last_tied(bar: ScoreBar) -> ScoreBar:
    *notes, last = bar.notes
    return replace(bar, notes=(*notes, replace(last, marks=Mark.TIE)))


WALTZ = Meter(3, 4)
THREE = ScoreBar(9, WALTZ, line("C5 D5 E5", 1))
PARTS = {
    "eight bars": part(*(eighths(n) for n in range(1, 9))),
    "a tie over the edge": part(
        *(eighths(n) for n in range(1, 4)),
        with_last_tied(eighths(4)),
        *(eighths(n) for n in range(5, 9)),
    ),
    "other metre, other key": part(
        *(eighths(n) for n in range(1, 9)), replace(THREE, key=(-3, "minor")), THREE, fifths=2
    ),
    "pickup": part(
        ScoreBar(0, COMMON, line("G4", 1)), *(eighths(n) for n in range(1, 7)), clef=Clef.BASS
    ),
    "one bar": part(eighths(1)),
}


@pytest.mark.parametrize("name", PARTS)
def test_each_line_alone_is_drawn_as_in_one_go(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    score = PARTS[name]
    together = draw_systems(score, width_mm=WIDTH_MM)
    forget_engraving()
    whole = engraved_systems.drawn_systems

    def one_by_one(bars, systems, width):
        return [line for system in systems for line in whole(bars, [system], width)]

    monkeypatch.setattr("halfstep.render.score_pictures.drawn_systems", one_by_one)
    assert draw_systems(score, width_mm=WIDTH_MM) == together


def test_an_edit_engraves_its_own_line_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    score = PARTS["eight bars"]
    draw_systems(score, width_mm=WIDTH_MM)
    pages: list[int] = []
    engrave = engraved_systems.engraved

    def counted(mei: str, width: float, **options: object):
        drawn = engrave(mei, width, **options)
        pages.append(len(drawn))
        return drawn

    monkeypatch.setattr(engraved_systems, "engraved", counted)
    bar = score.bars[5]
    moved = replace(bar, notes=(replace(bar.notes[0], pitch=bar.notes[4].pitch), *bar.notes[1:]))
    draw_systems(replace(score, bars=(*score.bars[:5], moved, *score.bars[6:])), width_mm=WIDTH_MM)
    assert pages == [1], "the line; the bar's width is known well enough"
    pages.clear()
    draw_systems(score, width_mm=WIDTH_MM)
    assert pages == [], "what stood before is still there"


def test_a_score_longer_than_what_is_kept_is_drawn_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    score = PARTS["eight bars"]
    together = draw_systems(score, width_mm=WIDTH_MM)
    forget_engraving()
    caches = (engraved_systems._widths, engraved_systems._lines, engraved_systems.finished_lines)
    for kept in caches:
        monkeypatch.setattr(kept, "_most", 1)
    assert draw_systems(score, width_mm=WIDTH_MM) == together


# What is drawn has a name on a page


def test_what_is_drawn_of_a_note_is_one_group_with_its_name() -> None:
    score = part(
        ScoreBar(1, COMMON, (*line("C5 F#5 r", 1), ScoreNote(None, Fraction(1), Mark.NONE))),
        label=INSTRUMENTS["flute"].label,
    )
    names = {"n-0-0": "0", "n-0-1": "1", "n-0-2": '2"', "b-0": "1"}
    (picture,) = draw_systems(score, width_mm=WIDTH_MM, names=names)
    assert re.findall(r"data-(?:note|bar)=\S+", picture.svg.replace(">", " ")) == [
        'data-bar="1"',
        'data-note="0"',
        'data-note="1"',
        "data-note='2\"'",
    ]
    (plain,) = draw_systems(score, width_mm=WIDTH_MM)
    assert "data-" not in plain.svg
    assert sorted(_paths(plain.svg)) == sorted(_paths(picture.svg))


def _paths(svg: str) -> list[str]:
    return re.findall(r"<(?:path|polygon|rect|polyline|ellipse) [^>]*>", svg)


def test_the_engraver_breaks_no_line_by_itself() -> None:
    """It did where a line was the only one and as wide as its room: the second was lost."""
    score = part(*(rhythm("1/2 " * 8, number=number) for number in range(1, 5)))
    bars = mei_bars(score, lambda _: 0.0)
    head, widths = natural_widths(bars)
    (drawn,) = engraved(score_mei(bars, [(range(4), 0)]), 0.8 * (head + sum(widths)))
    assert list(read_line(drawn).bars) == ["b-0", "b-1", "b-2", "b-3"]


def test_a_line_that_the_engraver_breaks_is_noticed() -> None:
    score = part(*(rhythm("1/2 " * 8, number=number) for number in range(1, 5)))
    text = score_mei(mei_bars(score, lambda _: 0.0), [(range(4), 0)]).replace("<sb/>", "")
    with pytest.raises(EngravingFault, match="broke a line of music in two"):
        engraved(text, 9000.0)
