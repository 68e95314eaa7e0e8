"""What a player plays in the bars that a line leaves is the player's own, and may echo a call."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from feedback.played_takes import PlayedTone, line_of, moved, played, take_of
from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.echoes import EchoNote, EchoShare, echo_share, echoed_notes
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.form_places import form_places
from halfstep.feedback.judge import judge
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.open_bars import open_bars
from halfstep.feedback.take_figures import ShareRight, take_figures
from halfstep.feedback.written_line import read_by_line
from halfstep.harmony.analysis import Analysis
from halfstep.meter import Feel

CHART = "key: C\n| C7 | F7 | C7 | F7 | C7 | F7 | C7 | C7 |"


def echo_line() -> tuple[Analysis, tuple[EtudeNote, ...]]:
    return line_of("echo", CHART)


def replies(tones: list[PlayedTone], *, later: float = 8.0, up: int = 0) -> list[PlayedTone]:
    """Each note again, so many quarter notes later: two bars."""
    return [replace(tone, onset=tone.onset + later, midi=tone.midi + up) for tone in tones]


def take_with(*parts: list[PlayedTone]) -> JudgedTake:
    analysis, line = echo_line()
    return take_of([tone for part in parts for tone in part], analysis, line=line)


def calls(passes: int = 2) -> list[PlayedTone]:
    return played(*echo_line(), passes=passes)


def test_an_echo_leaves_every_other_pair_of_bars() -> None:
    analysis, line = echo_line()
    assert open_bars(line, form_places(analysis)).numbers == {3, 4, 7, 8}


@pytest.mark.parametrize("step", ["scale", "one-line", "guide-tones", "chorus", "motif", "rhythm"])
def test_a_line_to_be_played_leaves_none(step: str) -> None:
    for chart in ("evening class", "twelve bars", "waltz"):
        analysis, line = line_of(step, chart)
        assert open_bars(line, form_places(analysis)).numbers == frozenset()


def test_a_note_that_is_held_leaves_no_bar() -> None:
    analysis, line = line_of("guide-tones", "| C | % | % | % |")
    held = line[0]
    whole = replace_note(held, beats=Fraction(16))
    assert open_bars((whole,), form_places(analysis)).numbers == frozenset()
    short = replace_note(held, beats=Fraction(33, 8))
    assert open_bars((short,), form_places(analysis)).numbers == {2, 3, 4}


def replace_note(note: EtudeNote, **fields: object) -> EtudeNote:
    return note._replace(onset=Fraction(0), **fields)


def test_all_that_is_echoed_is_counted_right() -> None:
    take = take_with(calls(), replies(calls()))
    share = echo_share(read_by_line(take))
    assert share is not None
    assert share.right == share.asked == len(calls())
    assert share.certainty == pytest.approx(0.99)


def test_an_echo_is_no_slip_and_none_of_its_notes_is_too_many() -> None:
    feedback = judge(take_with(calls(), replies(calls())))
    kinds = {finding.kind for finding in feedback.findings if finding.fault}
    assert not kinds & {
        FindingKind.FORM_SLIP, FindingKind.ADDED, FindingKind.MISSED, FindingKind.CHANGED,
    }  # fmt: skip


@pytest.mark.slow
def test_an_answer_of_the_players_own_is_no_fault_either() -> None:
    """As after a call that asks for an answer, not for an echo."""
    feedback = judge(take_with(calls(), replies(calls(), up=3)))
    kinds = {finding.kind for finding in feedback.findings}
    assert not kinds & {FindingKind.FORM_SLIP, FindingKind.ADDED}
    figures = take_figures(feedback)
    assert figures.line
    assert figures.line.right == figures.line.of == len(calls())


def test_silence_and_other_notes_are_no_echo() -> None:
    silent, other = take_with(calls()), take_with(calls(), replies(calls(), up=6))
    assert echo_share(read_by_line(other)) == EchoShare(0, len(calls()), pytest.approx(0.99))
    share = echo_share(read_by_line(silent))
    assert share is not None
    assert share.right == 0 < share.asked < len(calls())  # the last bars are not there at all


def test_an_echo_an_octave_lower_and_a_little_late_is_right() -> None:
    share = echo_share(read_by_line(take_with(calls(), replies(calls(), later=8.3, up=-12))))
    assert share is not None
    assert share.right >= 0.9 * share.asked


def test_playing_every_note_there_is_echoes_little() -> None:
    rush = [PlayedTone(start + n / 4, 0.2, 60 + n % 12) for start in (8, 24) for n in range(32)]
    share = echo_share(read_by_line(take_with(calls(1), rush)))
    assert share is not None
    assert share.right < 0.5 * share.asked


def test_who_plays_the_answers_alone_is_judged_by_the_line() -> None:
    feedback = judge(take_with(replies(calls())))
    figures = take_figures(feedback)
    assert figures.line is None
    assert figures.echo == ShareRight(len(calls()), len(calls()), pytest.approx(0.99))
    assert not any(finding.kind is FindingKind.NOT_JUDGED for finding in feedback.findings)


def test_an_answer_that_begins_a_little_early_is_the_players_own() -> None:
    tones = replies(calls(1))
    early = [replace(tones[0], onset=7.5), *tones[1:]]
    take = read_by_line(take_with(calls(1), early))
    assert take.alignment
    assert len(take.alignment.own) == len(tones)


@pytest.mark.slow
def test_a_slip_is_still_told_of_a_line_that_leaves_no_bar() -> None:
    analysis, line = line_of("one-line", "evening class")
    tones = moved(played(analysis, line, passes=2), 30, 4.0)
    findings = judge(take_of(tones, analysis, line=line, feel=Feel.STRAIGHT)).findings
    assert FindingKind.FORM_SLIP in {finding.kind for finding in findings}


def test_an_improvised_take_echoes_nothing() -> None:
    analysis, line = echo_line()
    take = take_of(played(analysis, line), analysis)
    assert echo_share(read_by_line(take)) is None
    assert take_figures(judge(take)).echo is None


@pytest.mark.parametrize(
    ("reply", "right"),
    [
        ([], 0),
        ([(0, 60), (1, 62), (2, 64)], 3),
        ([(1, 62), (0, 60)], 1),
        ([(0, 61), (0.2, 60), (1, 62), (2, 76)], 3),
        ([(0.7, 60), (1.7, 62)], 0),
        ([(2, 64), (2, 64)], 1),
    ],
)
def test_notes_are_echoed_in_order_and_once(reply: list[tuple[float, int]], right: int) -> None:
    call = [EchoNote(0, 60), EchoNote(1, 62), EchoNote(2, 64)]
    assert echoed_notes(call, [EchoNote(*note) for note in reply]) == right


def test_a_share_says_how_surely_it_is_heard() -> None:
    analysis, line = echo_line()
    tones = [*calls(1), *replies(calls(1))]
    share = echo_share(read_by_line(take_of(tones, analysis, line=line, certainty=0.5)))
    assert share == EchoShare(len(calls(1)), len(calls(1)), pytest.approx(0.5))
