"""Whatever the metre and the rhythm: each bar that is written is drawn, or nothing is."""

from __future__ import annotations

from fractions import Fraction
from itertools import cycle, pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from etude.etude_charts import chart_with
from halfstep.etude.parts import Brief
from halfstep.etude.steps import STEPS
from halfstep.etude.write import write_etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.notation import beam_groups, lengths_at, tuplet_groups
from halfstep.part.transposed_part import part_for, score_of
from halfstep.pitch import Interval, parse_pitch
from halfstep.render import engraver
from halfstep.render.engraver import EngravingFault, engraved
from halfstep.render.mei import HEAD, TAIL, score_mei
from halfstep.render.score_pictures import set_lines
from halfstep.score import Score, ScoreBar, ScoreNote
from strategies import GROUPED, meters

THIRD = Fraction(1, 3)
FIGURES = ((1,), (2,), ("1/2", "1/2"), ("1/2",), ("1/4", "1/4"), ("3/4", "1/4"), (THIRD,) * 3,
           (2 * THIRD, THIRD), (THIRD, 2 * THIRD), ("1/6",) * 3, ("3/2", "1/2"))  # fmt: skip
"""Pieces of rhythm, in beats: triplets of eighths and sixteenths among them."""


@st.composite
def rhythmic_bars(draw: st.DrawFn, number: int, meter: Meter) -> ScoreBar:
    """A full bar of figures and rests, cut as the writer cuts its lengths."""
    notes: list[ScoreNote] = []
    at = Fraction(0)
    while at < meter.bar_beats:
        figure = [Fraction(length) for length in draw(st.sampled_from(FIGURES))]
        if sum(figure) > meter.bar_beats - at or (at % 1 and figure[0].denominator % 3 == 0):
            figure = [meter.bar_beats - at if meter.bar_beats - at < 1 else 1 - at % 1]
        for beats in figure:
            rest = draw(st.integers(0, 7)) == 0
            pitch = None if rest else parse_pitch(draw(st.sampled_from(("C5", "F#4", "Bb5"))))
            lengths = [beats] if beats.denominator % 3 == 0 else lengths_at(
                meter, at, beats, rest=rest
            )  # fmt: skip
            notes += [ScoreNote(pitch, length) for length in lengths]
            at += beats
    return ScoreBar(number, meter, tuple(notes))


@st.composite
def scores(draw: st.DrawFn) -> Score:
    """A part of one to six bars in any metre."""
    meter = draw(st.one_of(meters(), st.sampled_from(GROUPED)))
    count = draw(st.integers(1, 6))
    bars = tuple(draw(rhythmic_bars(number, meter)) for number in range(1, count + 1))
    return Score(
        title="Stairs",
        label="Part",
        key_fifths=0,
        mode="major",
        clef=Clef.TREBLE,
        rise=Interval(0, 0),
        program=0,
        tempo_bpm=96.0,
        swing=True,
        bars=bars,
    )


@given(scores())
@settings(max_examples=120)
def test_a_beam_lies_in_one_tuplet_or_in_none(part: Score) -> None:
    for bar in part.bars:
        groups = [set(group) for group in tuplet_groups(bar)]
        for beam in map(set, beam_groups(bar)):
            assert all(not beam & group or beam <= group for group in groups), bar


@given(scores())
@settings(max_examples=40)
def test_bars_drawn_are_bars_written(part: Score) -> None:
    drawn = [name for line in set_lines(part, width_mm=180) for name in line.bars]
    assert drawn == [f"b-{place}" for place in range(len(part.bars))]


@given(scores())
@settings(max_examples=60)
def test_the_text_for_the_engraver_is_well_formed(part: Score) -> None:
    mei = score_mei(part, [(range(len(part.bars)), 0)], lambda _: 100.0)
    assert len(ElementTree.fromstring(mei).findall(".//{*}measure")) == len(part.bars)


METERS = tuple(
    Meter(count, unit)
    for unit, counts in {4: (2, 3, 4, 5, 6, 7), 2: (2, 3), 8: (3, 6, 7, 9, 12)}.items()
    for count in counts
)


@pytest.mark.slow
@pytest.mark.parametrize("meter", METERS, ids=str)
def test_every_step_is_drawn_whole_in_every_metre(meter: Meter) -> None:
    """Every step, the levels and three seeds in turn; a beam over a tuplet was lost in 2/2."""
    starts = [(meter.bar_beats * n, symbol) for n, symbol in enumerate(("F7", "Bb7", "Gm7", "C7"))]
    player = INSTRUMENTS["tenor-sax"]
    analyses = {level: analyse(chart_with(meter, 4, starts), level=level) for level in Level}
    turns = cycle(zip(Level, (1, 2, 5), strict=True))
    for step, (level, seed) in zip(STEPS, turns, strict=False):
        analysis = analyses[level]
        etude = write_etude(step, analysis, Brief(player, level, 120.0, seed))
        part = score_of(etude, part_for(analysis, player), title="Stairs", feel=Feel.SWING)
        bars = [name for line in set_lines(part, width_mm=180) for name in line.bars]
        assert len(bars) == 4, (step, level, seed)


def test_a_text_that_is_not_well_formed_is_refused() -> None:
    with pytest.raises(EngravingFault, match="not well-formed: mismatched tag"):
        engraved(f"{HEAD}<section><beam></measure>{TAIL}", 1000.0)


def test_a_drawing_with_fewer_bars_than_the_score_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The engraver drops what it cannot take without a word; here it drops the last page."""
    toolkit = engraver._toolkit()

    class Forgetful:
        def __getattr__(self, name: str) -> object:
            return getattr(toolkit, name)

        def getPageCount(self) -> int:  # noqa: N802 - the library's name
            return int(toolkit.getPageCount()) - 1

    monkeypatch.setattr(engraver, "_toolkit", Forgetful)
    bars = tuple(
        ScoreBar(n, Meter(4, 4), (ScoreNote(parse_pitch("C5"), Fraction(4)),)) for n in (1, 2)
    )
    part = Score(
        title="Stairs",
        label="Part",
        key_fifths=0,
        mode="major",
        clef=Clef.TREBLE,
        rise=Interval(0, 0),
        program=0,
        tempo_bpm=96.0,
        swing=True,
        bars=bars,
    )
    pages = [(range(0, 1), 0), (range(1, 2), 0)]
    with pytest.raises(EngravingFault, match="left out b-1, n-1-0"):
        engraved(score_mei(part, pages, lambda _: 0.0), 5000.0)


def test_beams_of_neighbouring_pulses_do_not_touch_in_cut_time() -> None:
    """Two triplets in a half note are two beams, and the eighths after them a third."""
    lengths = [THIRD] * 6 + [Fraction(1, 2)] * 4
    notes = tuple(ScoreNote(parse_pitch("C5"), length) for length in lengths)
    bar = ScoreBar(1, Meter(2, 2), notes)
    assert beam_groups(bar) == ((0, 1, 2), (3, 4, 5), (6, 7, 8, 9))
    assert all(one[-1] < other[0] for one, other in pairwise(beam_groups(bar)))
