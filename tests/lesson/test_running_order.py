"""Does a teacher who films have in hand what to say and play, and when?"""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pytest

from halfstep.errors import BriefError
from halfstep.lesson.film_words import captions_text
from halfstep.lesson.running_order import (
    RunningOrder,
    description_text,
    order_cues_text,
    order_page,
    running_order,
)
from halfstep.render.order_paper import order_pdf
from halfstep.services.make_film import film_line
from halfstep.services.make_running_order import MakeRunningOrder, make_running_order

CHART = "title: Evening Stairs\n| Am7 | D7 | Gmaj7 | Gmaj7 |"


def ordered(*steps: str, chart: str = CHART, talk_s: float = 0.0, **fields: object) -> RunningOrder:
    asked = MakeRunningOrder(chart, tempi="120", choruses=2, **fields)  # type: ignore[arg-type]
    return running_order([film_line(asked.film(step)) for step in steps], talk_s=talk_s)


def test_of_one_step_times_are_those_of_its_film() -> None:
    """Without talk the cues may stand beside the film as they are."""
    order = ordered("cells")
    (step,), (film,) = order.steps, order.films
    assert (step.film_s, step.end_s) == (0.0, film.length_s)
    count_in, *bars, again = step.cues
    assert (count_in.start_s, count_in.words) == (film.sound_s, "1 2 3 4")
    assert [cue.start_s for cue in bars] == [
        bar.start_s
        for bar in film.bars
        if bar.chorus == 1 and f"bar {bar.place + 1}" in {cue.place for cue in bars}
    ]
    assert (again.place, again.start_s) == ("chorus 2", film.choruses[1].start_s)


def test_a_change_is_told_in_its_bar_in_the_notes_that_the_player_reads() -> None:
    """Between dominant sevenths a fourth apart the third falls a half step to the seventh.

    Common practice, no source; for alto the concert chords G7 and C7 are E7 and A7.
    """
    order = ordered("arpeggio", chart="| G7 | C7 |", instrument="alto-sax")
    cues = {cue.place: cue.words for cue in order.steps[0].cues}
    assert cues["bar 2"] == "A7: G♯ → G♮"
    notes = dict(order.notes)
    assert "E7: E G♯ B D" in notes["tones"]
    assert "E7 to A7: G♯ → G♮" in notes["changes"]


def test_where_the_scale_stays_the_guide_tones_that_go_are_told() -> None:
    """From a minor seventh to the dominant a fourth higher the seventh falls to the third, a half
    step, and the third stays as the seventh. Common practice, no source.
    """
    order = ordered("arpeggio", chart="| Bm7 | E7 | Amaj7 | F#m7 |")
    notes, cues = dict(order.notes), {cue.place: cue.words for cue in order.steps[0].cues}
    assert "Bm7 to E7: the scale stays, A → G♯" in notes["changes"]
    assert cues["bar 2"] == "E7: the scale stays, A → G♯"
    assert "the scale stays; A natural goes to G sharp" in captions_text(order.films[0])


def test_the_tones_of_a_chord_are_not_parted_at_the_end_of_a_line() -> None:
    tones = dict(order_page(ordered("cells")).rows)["tones"]
    assert "Am7:\u00a0A\u00a0C\u00a0E\u00a0G · " in tones


def test_steps_follow_one_another_with_talk_before_each() -> None:
    order = ordered("arpeggio", "scale", talk_s=20.0)
    first, second = order.steps
    assert first.film_s == 20.0
    assert second.start_s == first.end_s
    assert second.film_s == second.start_s + 20.0
    assert order.length_s == 40.0 + sum(film.length_s for film in order.films)
    cues = [cue for step in order.steps for cue in step.cues]
    assert all(one.end_s <= other.start_s + 1e-9 for one, other in pairwise(cues))


def test_the_description_has_a_chapter_a_step_and_begins_at_nought() -> None:
    text = description_text(ordered("arpeggio", "scale", talk_s=20.0))
    chapters = re.findall(r"^(\d+:\d\d) (.+)$", text, re.MULTILINE)
    assert [title for _, title in chapters] == ["1. Arpeggio", "4. Scale"]
    assert chapters[0][0] == "0:00"
    assert "stop when something hurts" in text


def test_of_one_step_the_description_has_the_chapters_of_its_film() -> None:
    text = description_text(ordered("cells", talk_s=5.0))
    chapters = re.findall(r"^(\d+:\d\d) (.+)$", text, re.MULTILINE)
    assert chapters[0] == ("0:00", "8. Cells")
    assert [title for _, title in chapters[1:]] == ["Title and count-in", "Chorus 1", "Chorus 2"]
    assert chapters[1][0] == "0:05"


def test_cues_are_in_order_and_none_overlaps() -> None:
    """W3C WebVTT, 4.1: a cue begins no sooner than the ones before it."""
    text = order_cues_text(ordered("arpeggio", "scale", talk_s=20.0))
    assert text.startswith("WEBVTT\n")
    times = re.findall(r"(\d\d:\d\d:\d\d\.\d{3}) --> (\d\d:\d\d:\d\d\.\d{3})", text)
    assert len(times) == 10
    assert all(begin < end for begin, end in times)
    assert all(one[1] <= other[0] for one, other in pairwise(times))


@pytest.mark.slow
def test_the_page_says_that_it_is_not_to_be_read_out() -> None:
    paper = order_page(ordered("arpeggio", "scale", talk_s=20.0))
    pdf = pypdfium2.PdfDocument(order_pdf(paper))
    text = " ".join(pdf[0].get_textpage().get_text_range().split())
    assert "Evening Stairs" in text
    assert "nothing here is meant to be read out" in text
    assert "20 seconds of talk before each" in text
    assert "1. Arpeggio" in text
    assert "count-in" in text
    assert order_pdf(paper) == order_pdf(paper)


@pytest.mark.slow
def test_a_folder_has_page_cues_description_and_a_still_of_each_step(tmp_path: Path) -> None:
    reply = make_running_order(MakeRunningOrder(CHART, "cells", tempi="120", choruses=1))
    paths = reply.write(tmp_path / "script")
    assert [path.name for path in paths] == [
        "running-order.pdf", "running-order.vtt", "description.txt", "still-step-8.png",
    ]  # fmt: skip
    assert all(path.stat().st_size for path in paths)


@pytest.mark.parametrize("talk_s", [-1.0, 601.0, float("nan")])
def test_talk_has_bounds(talk_s: float) -> None:
    with pytest.raises(BriefError, match=r"talk_s .*: give 0 to 600 seconds"):
        make_running_order(MakeRunningOrder(CHART, "cells", talk_s=talk_s))


def test_a_chart_needs_a_step() -> None:
    with pytest.raises(BriefError, match="say which one is filmed"):
        make_running_order(MakeRunningOrder(CHART))
