"""The film of a take: where its heads sound, what is said of it, and that it names nobody."""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfstep.feedback.judge import Feedback, judge
from halfstep.lesson.film_scenes import film_passages
from halfstep.lesson.film_take import LEAD_S, FilmTake, take_timeline
from halfstep.lesson.film_timeline import TITLE_S
from halfstep.render.film_music import film_music
from halfstep.render.film_sizes import FILM_SIZES
from made_feedback import heard_take, judged_take


def feedback(**fields: object) -> Feedback:
    """Quarter notes at 120 over four bars, bar 1 at two seconds."""
    return judge(judged_take(heard_take(**fields)))  # type: ignore[arg-type]


def test_heads_are_marked_where_they_were_played() -> None:
    """The first note, two seconds into the recording, of which one and a half are heard."""
    times = take_timeline(FilmTake(feedback(), "Bo", "Over four bars"))
    struck = [head.start_s for head in times.heads if head.is_struck]
    assert struck[:4] == pytest.approx([TITLE_S + LEAD_S + 0.5 * beat for beat in range(4)])


def test_a_late_note_is_marked_late() -> None:
    """A note 90 ms behind its place has its mark 90 ms behind it."""
    heard = heard_take()
    notes = list(heard.notes)
    notes[5] = replace(notes[5], onset_s=notes[5].onset_s + 0.09)
    judged = judge(judged_take(replace(heard, notes=tuple(notes))))
    times = take_timeline(FilmTake(judged, "", "Over four bars"))
    struck = [head.start_s for head in times.heads if head.is_struck]
    assert struck[5] == pytest.approx(TITLE_S + LEAD_S + 2.5 + 0.09, abs=2e-3)


def test_findings_are_said_while_they_sound() -> None:
    """Each in a few words, in order, none over the next."""
    times = take_timeline(FilmTake(feedback(), "Bo", "Over four bars"))
    assert times.findings
    for finding, following in zip(times.findings, times.findings[1:], strict=False):
        assert finding.start_s < finding.end_s <= following.start_s or (
            finding.start_s == following.start_s == finding.end_s
        )
    assert all(finding.words for finding in times.findings)


def test_nobody_is_named_unless_a_nickname_is_given() -> None:
    """The title is the nickname, or that it is a take."""
    assert take_timeline(FilmTake(feedback(), "", "Over four bars")).title == "A take"
    assert take_timeline(FilmTake(feedback(), "Bo", "Over four bars")).title == "Bo"


def test_chords_follow_the_take_to_its_end() -> None:
    """Those of the form, as the player reads them, without a gap."""
    times = take_timeline(FilmTake(feedback(), "Bo", "Over four bars"))
    assert [str(chord.symbol) for chord in times.chords] == ["Bm7", "E7", "C♯ø7", "F♯7♭9"]
    ends = [chord.end_s for chord in times.chords]
    assert ends == pytest.approx([*(chord.start_s for chord in times.chords[1:]), ends[-1]])
    assert ends[-1] == pytest.approx(times.music_end_s)


def test_a_finding_stands_in_the_strip_while_it_is_said() -> None:
    """Its words are seen from the frame on that is nearest to it."""
    times = take_timeline(FilmTake(feedback(), "Bo", "Over four bars"))
    music = film_music(times.score, FILM_SIZES["720p"])
    said = {
        scene.finding for passage in film_passages(times, music, 30) for _, scene in passage.runs
    }
    assert {finding.words for finding in times.findings} <= said
