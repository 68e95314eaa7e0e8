"""Are the lines musical? Measured over invented charts, with generous bounds.

Sources
-------
Intervals, turns and chord tones of real solos, and how likely each note is over each
kind of chord: counted over the transcribed 4/4 solos of the Weimar Jazz Database, in
``wjd-derived`` of the reference data. They are context: an exercise that spells the
changes lies above a solo. The other bounds are common practice, no source.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import log
from pathlib import Path
from statistics import mean

import pytest
from etude_charts import INVENTED, written

from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import AnalysedChord
from halfstep.level import Level

PLAYERS = ("alto-sax", "trumpet", "clarinet", "trombone", "guitar")
pytestmark = pytest.mark.slow


@dataclass(frozen=True)
class Written:
    """An etude with what the facts are counted from."""

    name: str
    player: str
    level: Level
    etude: Etude

    @property
    def notes(self) -> list[EtudeNote]:
        return [note for note in self.etude.notes if note.pitch]

    @property
    def midis(self) -> list[int]:
        return [note.pitch.midi for note in self.etude.notes if note.pitch]

    @property
    def sizes(self) -> list[int]:
        """Semitones from note to note, where no rest lies between."""
        return [
            abs(new.pitch.midi - old.pitch.midi)
            for old, new in pairwise(self.etude.notes)
            if old.pitch and new.pitch
        ]

    @property
    def turns(self) -> float:
        """Share of notes at which the line turns."""
        ups = [b > a for a, b in pairwise(self.midis)]
        return mean(a != b for a, b in pairwise(ups))

    @property
    def bars(self) -> list[tuple[int, ...]]:
        bar = self.etude.analysis.chart.meter.bar_beats
        found: dict[object, list[int]] = {}
        for note, midi in zip(self.notes, self.midis, strict=True):
            found.setdefault(note.onset // bar, []).append(midi)
        return [tuple(each) for each in found.values()]

    @property
    def narrow(self) -> bool:
        """True for a beginner who stays on one side of the register break."""
        return self.etude.brief.barrier is not None

    def __str__(self) -> str:
        return f"{self.name} {self.player} {self.level} step {self.etude.step.name}"


@pytest.fixture(scope="module")
def corpus() -> dict[str, list[Written]]:
    """Steps 3, 5 and 6 for every invented chart and level, two of the five players in turn."""
    return {
        step: [
            Written(name, player, level, written(step, name, player, level))
            for place, name in enumerate(INVENTED)
            for turn, level in enumerate(Level)
            for player in (PLAYERS[(place + turn) % 5], PLAYERS[(place + turn + 2) % 5])
        ]
        for step in ("broken-arpeggio", "turning-scale", "one-line")
    }


Corpus = dict[str, list[Written]]


def share(of: list[Written], low: int, high: int) -> float:
    """Share of intervals of that many semitones."""
    return mean(low <= size <= high for each in of for size in each.sizes)


@pytest.mark.parametrize("step", ["turning-scale", "one-line"])
def test_lines_go_by_steps_and_thirds(corpus: Corpus, step: str) -> None:
    for each in corpus[step]:
        assert mean(size <= 4 for size in each.sizes) >= 0.8, each
        assert max(each.sizes) <= 9, each


def test_a_turning_line_has_a_few_skips(corpus: Corpus) -> None:
    """As its task says: fourths and fifths, fewer than in real solos (10.7 %)."""
    assert 0.015 <= share(corpus["turning-scale"], 5, 9) <= 0.107


def test_one_line_goes_by_step_more_than_solos_do(corpus: Corpus) -> None:
    """54.7 % of the intervals in solos by saxophonists are steps."""
    assert 0.60 <= share(corpus["one-line"], 1, 2) <= 0.90


def test_a_broken_arpeggio_skips_without_jumping_about(corpus: Corpus) -> None:
    for each in corpus["broken-arpeggio"]:
        assert (2.6 if each.narrow else 3.0) <= mean(each.sizes) <= 5.5, each
        assert max(each.sizes) <= 12, each


def test_a_broken_arpeggio_turns_more_than_a_turning_line_and_one_line_least(
    corpus: Corpus,
) -> None:
    """Solos turn at 43 % of their notes."""
    broken, turning, line = (
        mean(each.turns for each in corpus[step])
        for step in ("broken-arpeggio", "turning-scale", "one-line")
    )
    assert 0.80 > broken > turning > line > 0.20
    assert turning < 0.50


def test_no_bar_of_one_line_comes_more_than_twice(corpus: Corpus) -> None:
    for each in corpus["one-line"]:
        assert max(Counter(each.bars[:16]).values()) <= 2, each


@pytest.mark.parametrize("step", ["broken-arpeggio", "turning-scale", "one-line"])
def test_no_line_see_saws_on_two_notes(corpus: Corpus, step: str) -> None:
    """A B A B in no more than one place out of fifty."""
    for each in corpus[step]:
        m = each.midis
        saws = sum(a == c and b == d for a, b, c, d in zip(m, m[1:], m[2:], m[3:], strict=False))
        assert saws <= len(m) / 50 + 1, each


@pytest.mark.parametrize("step", ["broken-arpeggio", "turning-scale", "one-line"])
def test_no_two_bars_hang_on_two_notes(corpus: Corpus, step: str) -> None:
    for each in corpus[step]:
        for first, second in pairwise(each.bars):
            assert len({*first, *second}) >= 3, each


def test_no_line_is_stuck_in_one_place(corpus: Corpus) -> None:
    """Four bars of one line in a row span a fifth or more, all of them an octave.

    A beginner's, who stays on one side of the break, a fourth.
    """
    for each in corpus["one-line"]:
        for start in range(len(each.bars) - 3):
            four = [midi for bar in each.bars[start : start + 4] for midi in bar]
            assert max(four) - min(four) >= (5 if each.narrow else 7), each
        if each.level is not Level.BEGINNER:
            assert max(each.midis) - min(each.midis) >= 12, each


@pytest.mark.parametrize("step", ["broken-arpeggio", "turning-scale"])
def test_a_line_uses_the_range_it_has(corpus: Corpus, step: str) -> None:
    """An octave as a rule, never less than a sixth; on one side of the break than a fifth."""
    spans = [max(each.midis) - min(each.midis) for each in corpus[step]]
    pairs = zip(corpus[step], spans, strict=True)
    assert all(span >= (7 if each.narrow else 8) for each, span in pairs)
    assert mean(span >= 12 for span in spans) >= 0.8


@pytest.mark.parametrize("step", ["broken-arpeggio", "turning-scale", "one-line"])
def test_beginners_seldom_cross_the_break(corpus: Corpus, step: str) -> None:
    """The alto saxophone's lies between written C♯5 and D5; source: the instruments table.

    The broken arpeggio of a beginner has time for it, in quarters.
    """

    def crossings(level: Level) -> float:
        found = []
        for each in corpus[step]:
            if each.player == "alto-sax" and each.level is level:
                sides = [midi + 9 <= 73 for midi in each.midis]
                found += [a != b for a, b in pairwise(sides)]
        return mean(found)

    assert crossings(Level.BEGINNER) <= (0.1 if step == "broken-arpeggio" else 0.06)
    assert crossings(Level.BEGINNER) < crossings(Level.ADVANCED)


@pytest.mark.parametrize("step", ["broken-arpeggio", "turning-scale", "one-line"])
def test_the_last_note_is_root_third_fifth_or_seventh(corpus: Corpus, step: str) -> None:
    finals = [each.notes[-1].degree for each in corpus[step]]
    assert all(degree and degree.number in {1, 3, 5, 7} for degree in finals)
    assert mean(degree.number in {1, 3} for degree in finals if degree) >= 0.8


@pytest.mark.parametrize("step", ["turning-scale", "one-line"])
def test_phrases_end_on_chord_tones(corpus: Corpus, step: str) -> None:
    """62.6 % of the phrases of real solos do; an exercise nearly always."""
    ends = [
        note.degree.semitones in {tone.degree.semitones for tone in chord.tones}
        for each in corpus[step]
        for note in each.notes
        if note.breath and note.degree
        for chord in [each.etude.analysis.chords[note.chord]]
    ]
    assert mean(ends) >= 0.95


@pytest.fixture(scope="module")
def solos(reference_data: Path) -> dict[str, dict[str, dict[str, float]]]:
    return json.loads((reference_data / "wjd-derived" / "wjd_statistics.json").read_text())  # type: ignore[no-any-return]


def test_one_line_has_more_chord_tones_on_the_beat_than_solos_have(
    corpus: Corpus, solos: dict[str, dict[str, dict[str, float]]]
) -> None:
    notes = [
        (each.etude.analysis.chords[note.chord], note)
        for each in corpus["one-line"]
        for note in each.notes
        if note.onset.denominator == 1
    ]
    held = mean(
        note.degree.semitones in {tone.degree.semitones for tone in chord.tones}
        for chord, note in notes
        if note.degree
    )
    assert 100 * held > solos["chord_tone_pct"]["sax"]["beat1"]


def family(here: AnalysedChord) -> str:
    """The kind of chord in the table of real solos, by its third, fifth and seventh."""
    above = {tone.degree.semitones for tone in here.tones}
    if 4 in above or 5 in above:
        return "dom" if 10 in above else "maj"
    if 6 in above and 7 not in above:
        return "hdim" if 10 in above else "dim"
    return "min"


def outline(etude: Etude, table: dict[str, dict[str, list[float]]], *, moved: int = 0) -> float:
    """How much better the notes fit their own chords than the chart's mixture of chords.

    In nats a note: mean log-likelihood under the true chords minus that under the mean of
    all chords by their length. ``moved`` asks the chord so many places later instead.
    """
    chords = etude.analysis.chords
    whole = float(sum(each.span.beats for each in chords))
    gains = []
    for note in etude.notes:
        if note.pitch is None:
            continue
        beat = note.onset % 4
        place = "offbeat" if beat % 1 else "beat1/3" if beat in {0, 2} else "beat2/4"

        def fit(here: AnalysedChord, place: str = place, note: EtudeNote = note) -> float:
            assert note.pitch
            above = (note.pitch.midi - here.span.symbol.root.pitch_class) % 12
            return table[family(here)][place][above]

        mixed = sum(float(each.span.beats) / whole * fit(each) for each in chords)
        gains.append(log(fit(chords[(note.chord + moved) % len(chords)])) - log(mixed))
    return mean(gains)


def in_four(names: dict[str, str]) -> Iterator[str]:
    return (name for name in names if "meter" not in names[name])


def test_every_step_spells_the_changes_better_than_solos_do(reference_data: Path) -> None:
    """The outline over that of step 1 on the same chart: real solos score about 0.30.

    Scales root to root lie at 0.13 to 0.64; a line over the wrong chords at or below 0.
    """
    path = reference_data / "wjd-derived" / "emissions_wjd.json"
    table = json.loads(path.read_text())["emission_rel_pc"]
    relative: dict[str, list[float]] = {}
    for name in in_four(INVENTED):
        etudes = {
            step: written(step, name, "alto-sax", Level.INTERMEDIATE)
            for step in ("arpeggio", "broken-arpeggio", "scale", "turning-scale", "one-line")
        }
        outlines = {step: outline(each, table) for step, each in etudes.items()}
        assert outlines["arpeggio"] > 0.15, name
        for step, each in etudes.items():
            relative.setdefault(step, []).append(outlines[step] / outlines["arpeggio"])
            assert outline(each, table, moved=1) < outlines[step], (name, step)
    means = {step: mean(shares) for step, shares in relative.items()}
    assert means["broken-arpeggio"] > 0.8
    assert means["one-line"] > means["scale"] > 0.13
    assert means["one-line"] > 0.30
    assert means["turning-scale"] > 0.30
