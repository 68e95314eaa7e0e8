"""An etude for each thing to do next: over its bars, for its player, with what was missed."""

from __future__ import annotations

import io
from dataclasses import replace

import av
import pytest

from feedback.played_takes import line_of, take_of
from halfstep.etude.steps import STEPS, find_step
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.next_things import ThingKind, next_things
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.progression.excerpt import excerpt
from halfstep.services.spot_etudes import LADDERS, ROUNDS, SpotEtude, spot_etudes, written_over
from told_takes import a_finding, a_take, told

SHORT = {
    "one bar": "| Dm7 G7 |",
    "one chord": "| C7 | % | % | % |",
    "six eight": "meter: 6/8\n| Dmaj7 | Em7 A7 | F#m7 B7 | Em7 A7 |",
    "a silence": "| Dm7 | N.C. | G7alt | Cmaj7 |",
}


def etudes_for(kind: FindingKind, *, count: int = 1, **options: object) -> tuple[SpotEtude, ...]:
    take = a_take(**options)
    findings = (a_finding(kind, 3, chorus) for chorus in range(1, count + 1))
    return spot_etudes(told(*findings, take=take), None)


def test_every_matter_has_steps_that_there_are() -> None:
    names = {step.name for step in STEPS}
    assert set(LADDERS) == set(ThingKind)
    assert {name for ladder in LADDERS.values() for name in ladder} <= names


def test_it_is_written_from_a_bar_before_to_two_after_in_the_home_key() -> None:
    first, _ = etudes_for(FindingKind.CHANGE_MISSED)
    chart, whole = first.reply.etude.analysis.chart, a_take().analysis
    assert first.bars == (2, 3, 4, 5)
    assert first.label.endswith("bars 2 to 5")
    assert chart.key == whole.home
    assert [chord.symbol for bar in chart.bars for chord in bar.chords] == [
        chord.symbol for bar in whole.chart.form[1:5] for chord in bar.chords
    ]


def test_at_the_end_of_the_form_it_goes_on_to_the_beginning() -> None:
    take = a_take()
    first, _ = spot_etudes(told(a_finding(FindingKind.RESTART, 8), take=take), None)
    assert first.bars == (7, 8, 1, 2)
    assert first.label.endswith("bars 7, 8, 1 and 2")


def test_what_was_missed_often_is_asked_for_one_step_easier() -> None:
    once, often = (etudes_for(FindingKind.RESTART, count=n)[0].step for n in (1, 2))
    assert (once.name, often.name) == LADDERS[ThingKind.RESTART][:2]


@pytest.mark.slow
def test_what_was_rushed_is_asked_for_slower() -> None:
    rushed, missed = (
        etudes_for(kind)[0].tempo_bpm for kind in (FindingKind.RUSHING, FindingKind.CHANGE_MISSED)
    )
    assert (rushed, missed) == (96, 120)


@pytest.mark.slow
@pytest.mark.parametrize("chart", ["evening class", "minor"])
def test_it_has_the_note_that_was_missed_where_its_chord_begins(chart: str) -> None:
    take = a_take("tenor-sax", chart)
    for place, chord in enumerate(take.analysis.chords):
        change = take.analysis.changing_into(place)
        if place == 0 or change is None or not change.changing_notes:
            continue
        finding = a_finding(FindingKind.CHANGE_MISSED, chord.span.bar)
        beat = float(chord.span.at / take.chart.meter.pulse_beats) + 1
        at_chord = replace(finding, place=replace(finding.place, beat=beat))
        first, _ = spot_etudes(told(at_chord, take=take), None)
        start = first.reply.etude.analysis.chart.bars[0].beats + chord.span.at
        wanted = {name.pitch_class for name in change.changing_notes}
        over = [
            note.pitch.midi % 12
            for note in first.reply.etude.notes
            if note.pitch and start <= note.onset < start + chord.span.beats
        ]
        assert wanted & set(over), (chart, chord.span.symbol.ascii)


@pytest.mark.parametrize("chart", SHORT)
@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_every_player_gets_two_on_any_chart(chart: str, instrument: str) -> None:
    take = replace(a_take(instrument, SHORT[chart], "scale"), level=Level.BEGINNER)
    first, second = spot_etudes(told(a_finding(FindingKind.NARROW_RANGE, 1), take=take), None)
    for etude in (first, second):
        compass = INSTRUMENTS[instrument].compass(Level.BEGINNER)
        score = etude.reply.score()
        pitches = [note.pitch for bar in score.bars for note in bar.notes if note.pitch]
        assert pitches
        assert all(pitch in compass for pitch in pitches)


@pytest.mark.slow
@pytest.mark.parametrize("step", ["scale", "chorus", "call-and-response", "enclosures"])
def test_the_bars_of_a_written_line_are_asked_for_as_they_are_written(step: str) -> None:
    take = a_take(step=step, with_line=True)
    feedback = told(a_finding(FindingKind.CHANGED, 4), take=take)
    first, _ = spot_etudes(feedback, find_step(step))
    etude = first.reply.etude
    kept = written_over(take.line, take.chart, first.bars, etude.analysis)
    assert first.step.name == step
    assert [(n.onset, n.pitch) for n in etude.notes if n.pitch] == [
        (n.onset, n.pitch) for n in kept if n.pitch
    ]
    assert first.tempo_bpm < 120


def test_no_etude_is_written_for_a_take_that_is_not_judged() -> None:
    feedback = replace(told(), is_judged=False)
    assert (next_things(feedback), spot_etudes(feedback, None)) == ((), ())


def test_a_line_over_few_bars_keeps_its_place_in_them() -> None:
    analysis, line = line_of("scale", "waltz")
    take = take_of([], analysis, line=line)
    few = analyse(excerpt(take.chart, (2, 3), key=analysis.home, title=""))
    kept = written_over(take.line, take.chart, (2, 3), few)
    assert [(note.onset + 3, note.pitch) for note in kept] == [
        (note.onset, note.pitch) for note in line if 3 <= note.onset < 9
    ]


@pytest.mark.slow
def test_its_sound_goes_round_four_times() -> None:
    (first, _) = etudes_for(FindingKind.CHANGE_MISSED)
    once, round_and_round = (first.reply.sound(times=times).data for times in (1, ROUNDS))
    lengths = [seconds_of(data) for data in (once, round_and_round)]
    four_bars_s = 4 * 4 * 60 / first.tempo_bpm
    assert lengths[1] - lengths[0] == pytest.approx((ROUNDS - 1) * four_bars_s, abs=0.05)


def seconds_of(data: bytes) -> float:
    with av.open(io.BytesIO(data)) as file:
        return float(file.duration) / 1e6


@pytest.mark.slow
def test_a_few_bars_keep_the_scales_of_the_whole_chart() -> None:
    """Four bars of a blues alone are no blues: their fourth would be raised."""
    take = a_take("trumpet", "twelve bars")
    for bar in (2, 6, 10):
        finding = a_finding(FindingKind.CHANGE_MISSED, bar)
        first, _ = spot_etudes(told(finding, take=take), None)
        few = first.reply.etude.analysis
        starts = {each.number: start for each, start in take.chart.placed()}
        for chord in few.chords:
            place = starts[first.bars[chord.span.bar - 1]] + chord.span.at
            whole = take.analysis.chords[take.form.chord_at(float(place))]
            assert chord.scale.mode == whole.scale.mode
