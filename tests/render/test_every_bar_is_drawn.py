"""Whatever the metre and the rhythm: each bar that is written is drawn, or nothing is."""

from __future__ import annotations

from itertools import cycle

import pytest
from hypothesis import given, settings

from etude.etude_charts import chart_with
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.steps import STEPS
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import part_for
from halfstep.render import engraver
from halfstep.render.engraver import EngravingFault, engraved
from halfstep.render.mei import HEAD, TAIL, mei_bars, score_mei
from halfstep.render.score_pictures import set_lines
from halfstep.score import Score, ScoreBar
from written_scores import COMMON, line, part, rhythmic_scores


@pytest.mark.slow
@given(rhythmic_scores())
@settings(max_examples=25)
def test_bars_drawn_are_bars_written(score: Score) -> None:
    names = [name for music in set_lines(score, width_mm=180) for name in music.bars]
    assert names == [f"b-{place}" for place in range(len(score.bars))]


METERS = tuple(
    Meter(count, unit)
    for unit, counts in {4: (2, 3, 4, 5, 6, 7), 2: (2, 3), 8: (3, 6, 7, 9, 12)}.items()
    for count in counts
)


@pytest.mark.slow
@pytest.mark.parametrize("meter", METERS, ids=str)
def test_every_step_is_drawn_whole_in_every_metre(meter: Meter) -> None:
    """Every other step, the levels and three seeds in turn; a beam over a tuplet was lost in 2/2,
    which has them all.
    """
    starts = [(meter.bar_beats * n, symbol) for n, symbol in enumerate(("F7", "Bb7", "Gm7", "C7"))]
    player = INSTRUMENTS["tenor-sax"]
    analyses = {level: analyse(chart_with(meter, 4, starts), level=level) for level in Level}
    turns = cycle(zip(Level, (1, 2, 5), strict=True))
    steps = STEPS if meter == Meter(2, 2) else STEPS[METERS.index(meter) % 2 :: 2]
    for step, (level, seed) in zip(steps, turns, strict=False):
        analysis = analyses[level]
        etude = write_etude(step, analysis, Brief(player, level, 120.0, seed))
        score = score_of(etude, part_for(analysis, player), title="Stairs", feel=Feel.SWING)
        bars = [name for music in set_lines(score, width_mm=180) for name in music.bars]
        assert len(bars) == 4 + (etude.ending is not None), (step.name, level, seed)


def test_a_text_that_is_not_well_formed_is_refused() -> None:
    with pytest.raises(EngravingFault, match="not well-formed: mismatched tag"):
        engraved(f"{HEAD}<section><beam></measure>{TAIL}", 1000.0)


def test_a_drawing_with_fewer_bars_than_the_score_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The engraver drops what it cannot take without a word; here it drops the second bar."""
    toolkit = engraver._toolkit()

    class Forgetful:
        def __getattr__(self, name: str) -> object:
            return getattr(toolkit, name)

        def renderToSVG(self, page: int) -> str:  # noqa: N802 - the library's name
            return str(toolkit.renderToSVG(page)).split('<g id="b-1"')[0]

    monkeypatch.setattr(engraver, "_toolkit", Forgetful)
    score = part(*(ScoreBar(n, COMMON, line("C5", 4)) for n in (1, 2)))
    pages = [(range(0, 1), 0), (range(1, 2), 0)]
    with pytest.raises(EngravingFault, match="left out b-1, n-1-0"):
        engraved(score_mei(mei_bars(score, lambda _: 0.0), pages), 5000.0)
