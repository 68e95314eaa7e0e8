"""``halfstep backing``: which files it makes, what they say of themselves, what it refuses."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import halfstep
from app.app_command import Command, contents
from halfstep.backing import STYLES
from halfstep.errors import BriefError
from halfstep.etude.steps import parse_steps
from halfstep.lesson import backings
from halfstep.lesson.backing_brief import BackingBrief, backing_pieces, key_cycle
from halfstep.lesson.backings import RisingClock, backing_parts, choruses_of
from halfstep.lesson.make import make_lesson
from halfstep.lesson.sound import chords_of
from halfstep.meter import Clock
from halfstep.progression.key import parse_key
from halfstep.render.sound_facts import SoundFacts, sound_facts
from halfstep.services.make_lesson import MakeLesson, lesson_brief, more_backings
from typed_charts import read_chart_text

CHART = "title: Monday Vamp\nkey: Dm\ntempo: 100\n| Dm7 | G7 | Em7b5 | A7b9 |\n"


@pytest.fixture
def vamp(home: Path) -> str:
    """A chart's file in the folder the command runs in."""
    (home / "vamp.txt").write_text(CHART, "utf-8")
    return "vamp.txt"


@pytest.fixture
def silent(monkeypatch: pytest.MonkeyPatch) -> None:
    """Names and facts without synthesis: a second of silence is stored in each file."""

    def written(brief: BackingBrief, piece: Any, path: Path) -> tuple[str, ...]:
        facts = SoundFacts(
            title=piece.chart.title, part="band", loop_frames=(0, 44_100), frame_rate=44_100,
            choruses=choruses_of(brief, piece), count_in_beats="4",
            chords=chords_of(piece.chart), meter="4/4", tempo_bpm=piece.tempi[0],
            quarters_a_minute=piece.tempi[0], swing_ratio=1.0, style=brief.style.name,
        )  # fmt: skip
        backings.write_sound(path, np.zeros((44_100, 2), np.int16), facts)
        return ()

    monkeypatch.setattr("halfstep.services.make_backing.write_backing", written)


def made(command: Command, *arguments: str) -> list[str]:
    """Names of the files, in the order that they are shown."""
    ran = command("backing", *arguments)
    assert (ran.status, ran.err) == (0, "")
    return [Path(line).name for line in ran.out.splitlines() if not line.startswith("note")]


@pytest.mark.usefixtures("silent")
@pytest.mark.parametrize(
    ("options", "names"),
    [
        ((), ["backing.m4a"]),
        (("--tempo", "80..90+5"), ["backing-080.m4a", "backing-085.m4a", "backing-090.m4a"]),
        (("--tempo", "60%,100%"), ["backing-060.m4a", "backing-100.m4a"]),
        (("--tempo", "80..90+5", "--rising"), ["backing-rising.m4a"]),
        (("--key", "F#m"), ["backing.m4a"]),
        (("--key", "Am,Bbm"), ["backing-01-A-minor.m4a", "backing-02-B-flat-minor.m4a"]),
        (("--format", "mp3"), ["backing.mp3"]),
    ],
)
def test_a_file_for_each_key_and_tempo(
    command: Command, vamp: str, options: tuple[str, ...], names: list[str]
) -> None:
    assert made(command, vamp, *options) == names


@pytest.mark.usefixtures("silent")
def test_all_keys_go_round_by_fourths_from_the_chart_s_own(command: Command, vamp: str) -> None:
    """Common practice: D minor, G minor, C minor …, twelve in all, each once."""
    names = made(command, vamp, "--key", "cycle", "--format", "wav", "--out", "keys")
    assert names[:4] == [
        f"backing-0{n}-{key}-minor.wav" for n, key in enumerate(("D", "G", "C", "F"), 1)
    ]
    assert len(set(names)) == 12
    keys = key_cycle(read_chart_text(CHART))
    assert {key.tonic.pitch_class for key in keys} == set(range(12))
    facts = [sound_facts(Path("keys") / name) for name in names]
    assert [f.chords[0] for f in facts[:3] if f] == ["Dm7", "Gm7", "Cm7"]


@pytest.mark.usefixtures("silent")
def test_the_same_chart_is_made_again_and_another_is_not_lost(command: Command, vamp: str) -> None:
    assert made(command, vamp) == made(command, vamp, "--tempo", "90")
    before = contents(Path("backing"))
    ran = command("backing", "| F7 | Bb7 |")
    assert ran.status == 2
    assert "is a backing of other chords, 'Monday Vamp'; choose another --out" in ran.err
    assert contents(Path("backing")) == before
    assert made(command, "| F7 | Bb7 |", "--replace") == ["backing.m4a"]


@pytest.mark.usefixtures("silent")
def test_a_lesson_and_a_strange_file_are_left_alone(command: Command, vamp: str) -> None:
    Path("backing").mkdir()
    Path("backing/backing.m4a").write_bytes(b"my own")
    assert "is no backing of ours" in command("backing", vamp).err
    Path("backing/lesson.json").write_text("{}", "utf-8")
    assert "backing holds a lesson; choose another --out" in command("backing", vamp).err


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (("--tempo", "80..160"), "--tempo '80..160': give pulses a minute from 40"),
        (("--choruses", "0"), "--choruses 0: give a number from 1 to 200"),
        (("--choruses", "many"), "--choruses 'many': give a number from 1 to 200"),
        (("--without", "piano"), "--without 'piano': choose from drums, bass, chords"),
        (("--without", "bass,chords,drums"), "leaves nobody; leave out two at most"),
        (("--style", "bosa-nova"), "--style 'bosa-nova'; did you mean bossa-nova"),
        (("--style", "swing", "--feel", "straight"), "--feel 'straight': the style swing has"),
        (("--key", "H"), "'H' is no key"),
        (("--format", "wma"), "--format 'wma': choose from m4a"),
        (("--out", " "), "--out is empty"),
        (("--tempo", "40", "--choruses", "200", "--key", "Dm"), ""),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_line(
    command: Command, vamp: str, options: tuple[str, ...], fault: str
) -> None:
    if not fault:
        fault, options = "would last", ("--tempo", "40", "--choruses", "200")
        Path(vamp).write_text(CHART.replace("| Dm7 |", "| Dm7 |" + " G7 |" * 30), "utf-8")
    ran = command("backing", vamp, *options)
    assert ran.status == 2
    assert fault in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not Path("backing").exists()


def test_a_chart_is_needed_and_the_styles_are_listed(command: Command) -> None:
    assert "CHART is missing" in command("backing").err
    ran = command("backing", "--style", "list")
    assert [line.split()[0] for line in ran.out.splitlines()] == [s.name for s in STYLES]


def brief_of(**fields: Any) -> BackingBrief:
    chart = read_chart_text(CHART)
    return BackingBrief(chart=chart, style=STYLES[0], **{"tempi": (100.0,), **fields})


def test_a_rising_clock_begins_each_chorus_at_its_tempo() -> None:
    """Sixteen beats at 60 last 16 s, at 120 they last 8; it counts in at the first tempo."""
    clock = RisingClock(60, 1.0, (Clock(60), Clock(120)), Fraction(16))
    places = [-4, 0, 15, 16, 17, 32, 34]
    assert [clock.seconds(Fraction(p)) for p in places] == [-4, 0, 15, 16, 16.5, 24, 25]


@pytest.mark.parametrize("left_out", ["drums", "bass", "chords"])
def test_a_player_who_is_left_out_plays_nothing(left_out: str) -> None:
    brief = brief_of(without=frozenset({left_out}))
    (piece,) = backing_pieces(brief)
    names = [part.name for part in backing_parts(brief, piece, 1)]
    assert names == [name for name in ("drums", "bass", "chords") if name != left_out]


def test_an_exact_band_is_late_nowhere() -> None:
    brief = brief_of(exact_time=True)
    (piece,) = backing_pieces(brief)
    assert {n.late_s for part in backing_parts(brief, piece, 2) for n in part.notes} == {0.0}
    human = brief_of()
    assert len({n.late_s for part in backing_parts(human, piece, 2) for n in part.notes}) > 50


@pytest.mark.slow
def test_what_is_written_says_what_it_is(tmp_path: Path) -> None:
    reply = halfstep.make_backing(CHART, tmp_path / "out", tempi="200", choruses=3, style="swing")
    facts = sound_facts(reply.files[0])
    assert facts is not None
    assert (facts.title, facts.part, facts.choruses) == ("Monday Vamp", "band", 3)
    assert (facts.tempo_bpm, facts.style, facts.chords) == (
        200, "swing", ("Dm7", "G7", "Em7b5", "A7b9"),
    )  # fmt: skip
    first, last = facts.loop_frames
    assert (last - first) / facts.frame_rate == pytest.approx(3 * 16 * 60 / 200, abs=1e-3)
    assert parse_key("Dm") == reply.brief.chart.key


@pytest.mark.parametrize(
    ("fields", "tempo_bpm", "names"),
    [
        ({}, 100, []),
        ({"tempi": "120"}, 120, []),
        ({"tempi": "60%,100%"}, 100, ["backing-060"]),
        (
            {"tempi": "80..90+5", "tempo_bpm": 140},
            140,
            ["backing-080", "backing-085", "backing-090"],
        ),
        ({"tempi": "80..90+5", "rising": True}, 90, ["backing-rising"]),
        ({"key": "cycle"}, 100, ["backing-01-D-minor", "backing-02-G-minor"]),
    ],
)
def test_a_lesson_takes_tempi_and_keys_too(
    fields: dict[str, Any], tempo_bpm: float, names: list[str]
) -> None:
    """Of several tempi the last is the lesson's: the others lead to it."""
    request = MakeLesson(CHART, Path("unused"), **fields)
    brief = lesson_brief(request)
    assert brief.pulses_a_minute == tempo_bpm
    pieces = [piece.name for piece in more_backings(request, brief).pieces]
    assert pieces[:3] == names if "key" not in fields else pieces[:2] == names


def test_a_lesson_leaves_players_out_and_takes_its_choruses(tmp_path: Path) -> None:
    request = MakeLesson(CHART, tmp_path, without="bass", choruses=7, exact_time=True)
    brief = lesson_brief(request)
    assert (brief.choruses, brief.exact_time) == (7, True)
    lesson = make_lesson(replace(brief, steps=parse_steps("rhythm")))
    assert [part.name for part in lesson.band] == ["drums", "chords"]
    assert lesson.performed_band == lesson.band
    with pytest.raises(BriefError, match="choruses 0"):
        lesson_brief(replace(request, choruses=0))


def played(**fields: Any) -> tuple[BackingBrief, Any]:
    brief = brief_of(**fields)
    (piece,) = backing_pieces(brief)
    return brief, piece


def test_a_click_and_a_drone_stand_in_the_place_of_the_band() -> None:
    names = {
        (click, drone): [part.name for part in backing_parts(*played(click=click, drone=drone), 2)]
        for click, drone in ((True, None), (False, "roots"), (True, "home"))
    }
    assert list(names.values()) == [["click"], ["drone"], ["click", "drone"]]


@pytest.mark.slow
@pytest.mark.parametrize(("bars", "intro", "beats"), [(1, 0, 4), (2, 0, 8), (1, 2, 12), (2, 4, 24)])
def test_what_precedes_bar_1_is_counted_in_the_file(bars: int, intro: int, beats: int) -> None:
    """At 100 a beat lasts .6 s; the first frame of the loop is bar 1."""
    brief, piece = played(count_in_bars=bars, intro_bars=intro, choruses=1)
    sound = backings.backing_sound(brief, piece)
    assert sound.loop[0] == round(beats * 0.6 * 44_100)
    before = sound.mix_once[: sound.loop[0]].astype(float)
    bar = round(2.4 * 44_100)
    loud = [float(np.abs(before[n * bar : (n + 1) * bar]).max()) for n in range(beats // 4)]
    assert min(loud) > 1000


@pytest.mark.slow
def test_an_ending_rests_at_home_behind_the_last_chorus() -> None:
    plain, ended = (
        backings.backing_sound(*played(choruses=2, ending=ending)) for ending in (False, True)
    )
    assert plain.loop == ended.loop
    longer = (len(ended.mix_once) - len(plain.mix_once)) / 44_100
    assert longer == pytest.approx(4 * 0.6, abs=1024 / 44_100)


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (("--count-in", "3"), "--count-in 3: give 1 or 2"),
        (("--count-in", "one"), "--count-in 'one': give a number of bars"),
        (("--intro", "3"), "--intro 3: give 2 or 4"),
        (("--drone", "fifth"), "--drone 'fifth': choose from roots, home"),
    ],
)
def test_what_precedes_the_band_is_judged(
    command: Command, vamp: str, options: tuple[str, ...], fault: str
) -> None:
    ran = command("backing", vamp, *options)
    assert (ran.status, ran.out) == (2, "")
    assert fault in ran.err
