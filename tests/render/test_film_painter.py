"""What is seen in a film: sizes, heads on a phone, marks without colour, texts that fit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from film_reading import filmed, request
from halfstep.lesson.film import FilmPictures
from halfstep.lesson.film_scenes import MOST_MOVES
from halfstep.render.film_painter import INK, PAPER, FramePainter
from halfstep.render.film_scene import Scene, SceneCard, SceneHeader, SceneMove
from halfstep.render.film_sizes import FILM_SIZES, HEAD_PX, PHONE_PX
from halfstep.score import ChordText

BLUES = "| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7b9 | Gm7 | C7 | F7 D7 | Gm7 C7 |"
LUMA = np.array([0.2126, 0.7152, 0.0722])
"""ITU-R BT.709."""

Grey = npt.NDArray[np.float64]


def scenes_of(pictures: FilmPictures) -> list[Scene]:
    return [scene for passage in pictures.passages for _, scene in passage.runs]


def grey(pictures: FilmPictures, scene: Scene) -> Grey:
    return np.asarray(pictures.painter.pixels(scene) @ LUMA)


@pytest.mark.slow
@pytest.mark.parametrize("size", ["720p", "square"])
@pytest.mark.parametrize(
    ("step", "instrument"),
    [
        ("one-line", "flute"), ("scale", "trombone"), ("arpeggio", "tenor-sax"),
        ("chorus", "clarinet"), ("cells", "baritone-sax"),
    ],
)  # fmt: skip
def test_heads_are_seen_on_a_phone(size: str, step: str, instrument: str) -> None:
    """7 px wide or more where the film is 360 px wide; other sizes have the same proportions."""
    _, _, pictures = filmed(request(BLUES, step, size=size, instrument=instrument, choruses=1))
    assert pictures.music.head_px * PHONE_PX / FILM_SIZES[size].width >= HEAD_PX


@pytest.mark.slow
@pytest.mark.parametrize("size", ["square", "portrait"])
def test_upright_films_have_two_bars_a_line_at_most(size: str) -> None:
    """As they do on a phone that is held upright."""
    _, _, pictures = filmed(request(BLUES, "guide-tones", size=size, choruses=1))
    assert {len(line.bars) for line in pictures.music.lines} == {2}


@pytest.mark.slow
def test_what_stands_in_the_two_places_does_not_touch() -> None:
    """Whichever lines follow each other, ink and wedge of one keep off the other."""
    _, _, pictures = filmed(request(BLUES, "chorus", instrument="clarinet", choruses=2))
    painter, music = pictures.painter, pictures.music
    shown = [scene for scene in scenes_of(pictures) if scene.head]
    for scene in {scene.lines: scene for scene in shown}.values():
        upper, lower = scene.lines
        if upper is None or lower is None or upper.instead_of is not None:
            continue
        alone = [
            painter.pixels(replace(scene, lines=lines, bar=None, head=None)) != PAPER
            for lines in ((upper, None), (None, lower))
        ]
        under = [ink.any(axis=2)[music.top :] for ink in alone]
        assert not (under[0] & under[1]).any()


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("bars", "lines"), [(2, 2), (6, 3), (8, 4), (10, 5), (12, 6), (14, 3), (16, 4)]
)
def test_an_upright_film_shows_as_many_lines_as_have_room(bars: int, lines: int) -> None:
    """Those numbers first by which each line comes back to its place in every chorus."""
    chart = "| F7 | Bb7 " * (bars // 2) + "|"
    _, _, pictures = filmed(request(chart, "rhythm", size="portrait", choruses=1))
    staves = pictures.music.staves
    assert len(staves) == lines
    assert staves[-1] + 5 * pictures.music.space < FILM_SIZES["portrait"].height
    apart = [after - before for before, after in pairwise(staves)]
    assert max(apart) - min(apart) <= 1


@pytest.mark.slow
def test_in_an_upright_film_lines_follow_one_another_from_place_to_place() -> None:
    """What plays goes down the page and begins at the top again; under it stands what comes, and
    over it what was played, until what comes last has its place.
    """
    _, _, pictures = filmed(request("| F7 | Bb7 " * 8 + "|", size="portrait", choruses=2))
    passages = [p for p in pictures.passages if not p.runs[0][1].card][1:]
    assert len(passages) == 2 * 8
    for number, passage in enumerate(passages):
        scenes = [scene for _, scene in passage.runs]
        for scene in (scenes[0], scenes[-1]):
            shown = [line.line if line else None for line in scene.lines]
            coming = [visit % 8 for visit in range(number, min(number + 3, 16))]
            assert [shown[(number + ahead) % 4] for ahead in range(len(coming))] == coming
        before, after = (s.lines[(number - 1) % 4] for s in (scenes[0], scenes[-1]))
        assert after is not None
        if number:
            assert before is not None
            assert before.line == (number - 1) % 8
        assert after.line == ((number + 3) % 8 if number + 3 < 16 else number - 1 - 8)


@pytest.mark.slow
@pytest.mark.parametrize(("step", "choruses"), [("chorus", 2), ("scale", 1)])
def test_nothing_touches_in_upright_films(step: str, choruses: int) -> None:
    """Ink and wedge of each line keep off the others, whichever stand there together."""
    chart = "| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7b9 | Gm7 | C7 |"
    _, _, pictures = filmed(
        request(chart, step, instrument="clarinet", size="portrait", choruses=choruses)
    )
    painter, music = pictures.painter, pictures.music
    shown = {scene.lines: scene for scene in scenes_of(pictures) if scene.head}
    for lines, scene in shown.items():
        if any(line and line.instead_of is not None for line in lines):
            continue
        inked = np.zeros(painter.pixels(scene).shape[:2], int)
        for place, line in enumerate(lines):
            alone = tuple(line if n == place else None for n in range(len(lines)))
            seen = painter.pixels(replace(scene, lines=alone, bar=None, head=None)) != PAPER
            inked[music.top :] += seen.any(axis=2)[music.top :]
        assert inked.max() == 1


@pytest.mark.slow
def test_a_frame_is_as_large_as_it_is_asked_for() -> None:
    """Rows and columns of each size."""
    for name, size in FILM_SIZES.items():
        pictures = short(name)
        frame = pictures.painter.pixels(scenes_of(pictures)[0])
        assert frame.shape == (size.height, size.width, 3)


@pytest.mark.slow
def test_the_two_lines_take_turns_and_one_is_dark() -> None:
    """The line that plays is darker than the other, and stands where it stood faded."""
    _, _, pictures = filmed(request(BLUES, choruses=1))
    playing = [scene for scene in scenes_of(pictures) if scene.head]
    for scene in playing[:: len(playing) // 7]:
        upper, lower = scene.lines
        assert upper is not None
        assert lower is not None
        assert upper.is_playing != lower.is_playing
        shades = grey(pictures, scene)
        high = 4 * int(pictures.music.space)
        darkest = [shades[top : top + high].min() for top in pictures.music.staves]
        assert abs(darkest[0] - darkest[1]) > 60
        assert (darkest[0] < darkest[1]) == upper.is_playing


@pytest.mark.slow
def test_nothing_moves_at_a_bar_line_that_begins_a_line() -> None:
    """Before it and behind it the same two lines stand in the same places."""
    _, _, pictures = filmed(request(BLUES, choruses=2))
    passages = [p for p in pictures.passages if not p.runs[0][1].card]
    for before, after in pairwise(passages):
        last, first = before.runs[-1][1].lines, after.runs[0][1].lines
        assert [line and line.line for line in last] == [line and line.line for line in first]
        assert all(line is None or line.instead_of is None for line in (*last, *first))


@pytest.mark.slow
def test_the_line_to_come_is_there_before_it_plays() -> None:
    """When a line begins to play, it has stood faded in its place for half its foregoer's time."""
    _, _, pictures = filmed(request(BLUES, choruses=1))
    passages = [p for p in pictures.passages if not p.runs[0][1].card][1:]
    for before, after in pairwise(passages):
        playing = next(line for line in after.runs[0][1].lines if line and line.is_playing)
        coming = replace(playing, is_playing=False)
        seen = sum(frames for frames, scene in before.runs if coming in scene.lines)
        assert seen >= before.frames / 2


@pytest.mark.slow
def test_bar_and_head_that_sound_are_told_without_colour() -> None:
    """In grey the bar is darker than its paper, the disc than the bar, and the wedge than both."""
    _, _, pictures = filmed(request(BLUES, choruses=1))
    scene = next(scene for scene in scenes_of(pictures) if scene.head and scene.bar is not None)
    line = next(line for line in scene.lines if line and line.is_playing)
    place = scene.lines.index(line)
    music = pictures.music
    assert scene.head is not None
    assert scene.bar is not None
    head = music.lines[line.line].heads[scene.head]
    bar = music.lines[line.line].bars[scene.bar]
    top = music.top_of(place, line.line)
    with_marks = grey(pictures, scene)[top:]
    without = grey(pictures, replace(scene, head=None, bar=None))[top:]
    across = int((bar.left + bar.right) / 2)
    inside = np.s_[int(bar.top) : int(bar.bottom), across : across + 40]
    assert 10 <= np.median(without[inside]) - np.median(with_marks[inside]) <= 40
    disc = np.s_[int(head.top) - 6 : int(head.bottom) + 6, int(head.left) - 6 : int(head.right) + 6]
    assert (without[disc] - with_marks[disc]).max() > 45
    under = np.s_[
        int(bar.bottom) : music.lines[line.line].drawing.height, int(head.left) : int(head.right)
    ]
    assert (without[under] - with_marks[under]).max() > 120


@pytest.mark.slow
def test_the_note_that_changes_is_named_before_it_comes() -> None:
    """Under D7 stands that F♯ becomes F, and the chord that it becomes so in."""
    _, _, pictures = filmed(request("| D7 | G7 |", "scale", choruses=1))
    header = next(scene.header for scene in scenes_of(pictures) if scene.bar == 0)
    assert header.moves == (SceneMove("F♯", "F♮"),)
    assert header.now is not None
    assert header.following is not None
    assert (header.now.root, header.following.root) == ("D", "G")


@pytest.mark.slow
def test_many_changes_are_counted() -> None:
    """No more than three stand on the bar line, the rest is a number."""
    _, _, pictures = filmed(request("| Dbmaj7 | Dmaj7 |", "scale", choruses=1))
    header = next(scene.header for scene in scenes_of(pictures) if scene.bar == 0)
    assert len(header.moves) <= MOST_MOVES
    assert header.more > 0


chords = st.builds(
    ChordText,
    at=st.just(0),
    kind=st.just("other"),
    root=st.sampled_from(["C", "F♯", "B♭", "G♭"]),
    quality=st.sampled_from(["", "m", "maj", "ø", "m(maj7)", "sus"]),
    extension=st.sampled_from(["", "7", "9♯11", "7♭9♯9♭13", "13♭9♯11(no3)", "7alt"]),
    bass=st.sampled_from(["", "D♭", "F♯"]),
)
moves = st.builds(
    SceneMove, st.sampled_from(["", "C♯", "−B𝄫", "F♮"]), st.sampled_from(["", "C", "+B♭", "E𝄪"])
)
texts = st.text(st.sampled_from("abc WM♭♯·ÄŠ漢 "), max_size=200)
headers = st.builds(
    SceneHeader,
    now=chords,
    following=st.one_of(st.none(), chords),
    moves=st.lists(moves, max_size=3).map(tuple),
    more=st.integers(0, 5),
    words=st.sampled_from(["", "the scale stays"]),
)
cards = st.builds(SceneCard, texts, st.lists(texts, max_size=3).map(tuple))


@cache
def short(size: str) -> FilmPictures:
    return filmed(request("| F7 | Bb7 |", "scale", size=size, choruses=1))[2]


@pytest.mark.slow
@settings(max_examples=8, deadline=None)
@given(
    size=st.sampled_from([*FILM_SIZES]), header=headers, left=texts, right=texts,
    card=cards,
)  # fmt: skip
def test_whatever_is_said_stays_within_the_frame(
    size: str, header: SceneHeader, left: str, right: str, card: SceneCard
) -> None:
    """White is left at both edges, over the chords and under a card, however long texts are."""
    pictures = short(size)
    music = pictures.music
    playing = Scene(
        header=header,
        left=left,
        right=right[:40],
        lines=next(s.lines for s in scenes_of(pictures) if s.head),
    )
    shown = Scene(card=card)
    painter = FramePainter(pictures.painter.size, music, [playing, shown])
    for scene in (playing, shown):
        frame = painter.pixels(scene)
        edge = 4
        for side in (frame[:, :edge], frame[:, -edge:], frame[:edge], frame[-edge:]):
            assert (side == PAPER).all()


def test_ink_and_paper_are_those_of_the_pages() -> None:
    """The palette of ``docs/design.md``: #1f1c18 on #fbfaf6."""
    assert bytes(INK).hex() == "1f1c18"
    assert bytes(PAPER).hex() == "fbfaf6"
