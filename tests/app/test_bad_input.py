"""Whatever is wrong with a request ends in one line, status 2, and an untouched folder."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import pytest

from app.app_command import CHART, Command, Ran, contents
from halfstep.instruments import INSTRUMENTS

EXAMPLE = r"Dm7 \| G7 \| Cmaj7"


def assert_refused(ran: Ran, *words: str) -> None:
    """One line on standard error that says each of these, nothing else, status 2."""
    assert ran.status == 2, ran
    assert ran.out == ""
    assert ran.err.startswith("halfstep: ")
    assert ran.err.endswith("\n")
    assert ran.err.count("\n") == 1
    assert [word for word in words if word not in ran.err] == []


@pytest.mark.parametrize(
    ("chart", "words"),
    [
        ("| Dm7 | Gzz7 | C |", ("Gzz7", "line 1", "column 10", "'zz7'")),
        ("title: x\n| Dm7 |\n| C | Q7 |", ("'Q7'", "line 3, column 7", "such as Am7")),
        ("| Dm7 |\n| K |", ("'K'", "line 2, column 3")),
        ("| C7(zz) |", ("C7(zz)", "line 1")),
        ("", ("no chords", "Dm7 | G7 | Cmaj7")),
        ("   \n \n", ("no chords", "Dm7 | G7 | Cmaj7")),
        ("|", ("no chords", "Dm7 | G7 | Cmaj7")),
        ("| | | |", ("no chords", "Dm7 | G7 | Cmaj7")),
        ("| N.C. | N.C. |", ("no chords", "write bars such as")),
        ("title: only a title", ("no chords", "Dm7 | G7 | Cmaj7")),
        ("| % | C |", ("%", "column 3", "no bar before it")),
        ("| C |: D :|| E ::| F |", ("line 1",)),
        ("| " + "C " * 17 + "|", ("more than 16 chords", "column 3")),
        ("| C . D |", ("3 pulses", "4/4", "a bar has 4")),
        ("key: H\n| C |", ("'H'", "line 1, column 6", "F#m")),
        ("meter: 4/3\n| C |", ("'4/3'", "line 1, column 8", "6/8")),
        ("tempo: fast\n| C |", ("'fast'", "line 1, column 8")),
        ("feel: bouncy\n| C |", ("'bouncy'", "swing or straight")),
        ("composer: nobody\n| C |", ("'composer'", "title, key, meter, tempo, feel")),
        ("| C |\nkey: F\n| F |", ("header lines stand before", "line 2")),
        ("-| C |", ("line 1, column 1",)),
        ("| C |\n" * 2001, ("2000 bars",)),
        ("| \x00 |", ("line 1",)),
        ("gone.musicxml", ("no such file: gone.musicxml", "Dm7 | G7 | Cmaj7")),
        ("gone.txt", ("no such file: gone.txt",)),
        ("deep/down/gone", ("no such file: deep/down/gone",)),
        (".", (". is a folder", "give a chart file")),
        ("x" * 5000, ("no chord symbol",)),
    ],
)
def test_a_chart_that_cannot_be_read(
    chart: str, words: Sequence[str], command: Command, home: Path
) -> None:
    assert_refused(command("lesson", chart), *words)
    assert contents(home) == {}


def test_the_chord_at_fault_is_named_where_it_stands_in_a_file(
    command: Command, home: Path
) -> None:
    (home / "week 3.txt").write_text("title: Week 3\n\n| Dm7 | G7 |\n| C | X7 |\n")
    ran = command("lesson", "week 3.txt", "--out", "out")
    assert_refused(ran, "week 3.txt, line 4, column 7: 'X7' is no chord symbol")
    assert set(contents(home)) == {"week 3.txt"}


SCORE = (
    '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Tune</part-name>'
    '</score-part></part-list><part id="P1"><measure number="1">{}<note><rest/>'
    "<duration>4</duration></note></measure></part></score-partwise>"
)
HARMONY = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
TENFOLD = "".join(
    f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in pairwise("abcdefghi")
)
BOMB = f'<!DOCTYPE bomb [<!ENTITY a "aaaaaaaaaa">{TENFOLD}]>'
OUTSIDE = '<!DOCTYPE score [<!ENTITY secret SYSTEM "file:///etc/hostname">]>'
CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'


def archive(**entries: str | bytes) -> bytes:
    """A zip archive; ``__`` in a name stands for a slash, ``_`` for a dot."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in entries.items():
            file.writestr(name.replace("__", "/").replace("_", "."), data)
    return buffer.getvalue()


META = {"META-INF__container_xml": CONTAINER.format("score.xml")}
NOISE = bytes(range(256)) * 8

FILES: dict[str, tuple[bytes, tuple[str, ...]]] = {
    "empty.txt": (b"", ("no chords",)),
    "empty.musicxml": (b"", ("the file is empty",)),
    "blank.mxl": (b" \n", ("the file is empty",)),
    "noise.txt": (NOISE, ("no text",)),
    "noise": (NOISE, ("no text",)),
    "noise.musicxml": (NOISE, ("no well-formed XML", "line 1", "export the score again")),
    "noise.mxl": (b"PK" + NOISE, ("compressed file is damaged",)),
    "cut.musicxml": (b"<score-partwise><part>", ("no well-formed XML", "line 1")),
    "page.xml": (b"<html><body/></html>", ("<html> is no MusicXML score", "export it")),
    "plain.musicxml": (SCORE.format("").encode(), ("no chord symbols",)),
    "bomb.musicxml": ((BOMB + SCORE.format("<x>&i;</x>")).encode(), ("entities",)),
    "outside.musicxml": ((OUTSIDE + SCORE.format("<x>&secret;</x>")).encode(), ("entities",)),
    "deep.musicxml": (b"<a>" * 200_000, ("no well-formed XML",)),
    "bomb.mxl": (archive(score_xml=b" " * 19_000_000, **META), ("expands beyond measure",)),
    "many.mxl": (
        archive(**{f"s{n}_xml": b" " * 9_000_000 for n in range(3)}), ("more than 20 MB",),
    ),
    "crowd.mxl": (archive(**{f"s{n}_txt": b"" for n in range(101)}), ("100 entries",)),
    "bare.mxl": (archive(readme_txt="x"), ("holds no score",)),
    "hollow.mxl": (archive(), ("holds no score",)),
    "climb.mxl": (archive(**{"____" "score_xml": b"x"}), ("names a place outside it",)),
    "wide.mxl": (
        archive(**{"META-INF__container_xml": CONTAINER.format("../../etc/passwd")}),
        ("holds no score",),
    ),
    "nul.txt": (b"| C |\0", ("no text",)),
    "huge.txt": (b"| C " * 300_000, ("larger than 1 MB",)),
}  # fmt: skip


@pytest.mark.sampled
@pytest.mark.parametrize("name", FILES)
def test_a_file_that_cannot_be_read(name: str, command: Command, home: Path) -> None:
    data, words = FILES[name]
    (home / name).write_bytes(data)
    assert_refused(command("lesson", name), f"halfstep: {name}", *words)
    assert contents(home) == {name: data}


def test_no_line_of_an_outside_file_is_shown(command: Command, home: Path) -> None:
    (home / "secret.txt").write_text("a private line")
    address = (home / "secret.txt").as_uri()
    text = f'<!DOCTYPE s [<!ENTITY secret SYSTEM "{address}">]>' + SCORE.format("&secret;")
    (home / "outside.musicxml").write_text(text)
    ran = command("lesson", "outside.musicxml")
    assert_refused(ran, "entities")
    assert "private" not in ran.err


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
@pytest.mark.parametrize("name", ["pipe", "pipe.txt", "pipe.musicxml", "pipe.mxl"])
def test_a_pipe_is_refused_and_not_waited_for(name: str, command: Command, home: Path) -> None:
    os.mkfifo(home / name)
    assert_refused(command("lesson", name), name, "no plain file")


OPTIONS = [
    ("--for", "kazoo", ("'kazoo'", "concert, soprano-sax")),
    ("--for", "", ("''", "choose from concert")),
    ("--for", "flute,", ("''", "choose from concert")),
    ("--for", "alto sax", ("'alto sax'", "alto-sax")),
    ("--steps", "0", ("'0'", "steps 1 to 13")),
    ("--steps", "14", ("'14'", "rhythm, echo, question")),
    ("--steps", "6-1", ("'6-1'", "the earlier one first")),
    ("--steps", "1-", ("'1-'", "like 1-6, 1,3 or rhythm")),
    ("--steps", "", ("''", "like 1-6, 1,3 or rhythm")),
    ("--steps", "1,,2", ("'1,,2'", "like 1-6, 1,3 or rhythm")),
    ("--steps", "²", ("'²'", "like 1-6, 1,3 or rhythm")),
    ("--steps", "9" * 5000, ("like 1-6, 1,3 or rhythm",)),
    ("--tempo", "39.9", ("--tempo '39.9':", "from 40 to 300")),
    ("--tempo", "300.5", ("--tempo '300.5':", "from 40 to 300")),
    ("--tempo", "nan", ("--tempo 'nan':", "from 40 to 300")),
    ("--tempo", "inf", ("--tempo 'inf':", "from 40 to 300")),
    ("--tempo", "fast", ("'fast'", "from 40 to 300")),
    ("--tempo", "", ("''", "from 40 to 300")),
    ("--level", "expert", ("'expert'", "beginner, intermediate, advanced")),
    ("--level", "", ("''", "beginner, intermediate, advanced")),
    ("--feel", "shuffle", ("'shuffle'", "swing, straight")),
    ("--feel", "", ("''", "swing, straight")),
    ("--seed", "-1", ("'-1'", "a whole number, 0 or more")),
    ("--seed", "1.5", ("'1.5'", "a whole number, 0 or more")),
    ("--seed", "9" * 5000, ("a whole number, 0 or more",)),
    ("--seed", "", ("''", "a whole number, 0 or more")),
    ("--paper", "a5", ("'a5'", "a4, letter")),
    ("--paper", "", ("''", "a4, letter")),
    ("--key", "H", ("'H' is no key", "F#m for a minor key")),
    ("--key", "C##", ("'C##' is no key", "Bb")),
    ("--key", "G#", ("8 sharps", "write it as Ab")),
    ("--key", "Fbm", ("11 flats", "write it as Em")),
    ("--key", "", ("is no key", "Bb")),
    ("--out", "", ("--out is empty",)),
]


@pytest.mark.parametrize(("option", "value", "words"), OPTIONS)
def test_an_option_that_makes_no_sense(
    option: str, value: str, words: Sequence[str], command: Command, home: Path
) -> None:
    assert_refused(command("lesson", CHART, f"{option}={value}"), *words)
    assert contents(home) == {}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("xyzzy",), ("there is no command 'xyzzy'; see halfstep --help",)),
        (("lessn",), ("'lessn'; did you mean lesson? see halfstep --help",)),
        (("expalin",), ("'expalin'",)),
        ((CHART,), ('a chart comes after a command, such as: halfstep chart "',)),
        (("lesson", CHART, "--loud"), ("--loud", "--help")),
        (("lesson", CHART, "--lvel=beginner"), ("--lvel", "did you mean --level?")),
        (("chart", CHART, "--form", "bb"), ("did you mean --for?",)),
        (("etude", CHART, "--step", "1", "--temp0", "90"), ("did you mean --tempo?",)),
        (("lesson", CHART, "--for", "alto-saxx"), ("did you mean alto-sax?", "choose from")),
        (("lesson", CHART, "--for", "Tenor Saxophone"), ("did you mean tenor-sax?",)),
        (("changes", CHART, "--for", "trumpte"), ("did you mean trumpet?",)),
        (("changes", CHART, "--level", "begginer"), ("did you mean beginner?", "--level")),
        (("lesson", CHART, "--feel", "swingg"), ("did you mean swing?", "--feel")),
        (("lesson", CHART, "--paper", "leter"), ("did you mean letter?", "--paper")),
        (("chart", CHART, "--as", "musixml"), ("did you mean musicxml?", "--as")),
        (("etude", CHART, "--step", "enclosure"), ("did you mean enclosures?",)),
        (("lesson", CHART, "--steps", "rythm-3"), ("'rythm-3'", "did you mean rhythm?")),
        (("completion", "bsh"), ("did you mean bash?",)),
        (("lesson", CHART, "extra"), ("extra", "--help")),
        (("lesson", CHART, "--steps"), ("--steps", "expected one argument")),
        (("lesson", CHART, "--tempo", "-inf"), ("--tempo", "expected one argument")),
        (("--loud",), ("halfstep --help",)),
    ],
)
def test_a_command_that_is_none(
    arguments: Sequence[str], words: Sequence[str], command: Command, home: Path
) -> None:
    assert_refused(command(*arguments), *words)
    assert contents(home) == {}


@pytest.mark.parametrize("out", ["taken", "taken/below", "taken/far/below"])
def test_a_file_in_the_place_of_the_folder(out: str, command: Command, home: Path) -> None:
    (home / "taken").write_text("a list of songs")
    assert_refused(command("lesson", CHART, "--out", out), "taken is a file", "--out")
    assert contents(home) == {"taken": b"a list of songs"}


def test_a_name_no_system_takes(command: Command, home: Path) -> None:
    ran = command("lesson", CHART, "--out", f"new/newer/{'x' * 300}")
    assert_refused(ran, "cannot write to new", "too long")
    assert contents(home) == {}


def test_a_range_that_holds_no_note_of_a_chord(
    command: Command, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No instrument of the table is so narrow; one with five known notes is."""
    from halfstep.instruments import Compass
    from halfstep.pitch import parse_pitch

    narrow = Compass(parse_pitch("F4"), parse_pitch("F4"))
    whistle = INSTRUMENTS["flute"]._replace(key="whistle", compasses=(narrow,) * 3)
    monkeypatch.setitem(INSTRUMENTS, "whistle", whistle)
    ran = command("lesson", "| F | E |", "--for", "whistle")
    assert_refused(ran, "no note of E lies in the range of whistle")
    assert contents(home) == {}


@pytest.mark.parametrize("arguments", [("| Dm7 | Q |",), (CHART, "--key", "H"), ("gone.txt",)])
def test_an_earlier_lesson_stays_as_it_was(
    arguments: Sequence[str], command: Command, home: Path
) -> None:
    (home / "lesson").mkdir()
    (home / "lesson" / "lesson.json").write_text("{}")
    (home / "lesson" / "backing.m4a").write_bytes(b"ftyp")
    before = contents(home)
    assert_refused(command("lesson", *arguments))
    assert contents(home) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    "writer",
    ["lesson.write.write_musicxml", "lesson.write.line_midi", "services.make_lesson.lesson_data"],
)
def test_a_fault_of_the_program_is_one_line_and_leaves_nothing(
    writer: str, quick: Command, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: object, **__: object) -> None:
        raise RuntimeError("the lamp\nwent out")

    monkeypatch.setattr(f"halfstep.{writer}", failing)
    ran = quick(CHART, "--out", "new/out")
    assert (ran.status, ran.out, ran.err.count("\n")) == (70, "", 1)
    assert "a fault of the program" in ran.err
    assert "the lamp went out (RuntimeError)" in ran.err
    assert contents(home) == {}


def test_an_interruption_is_one_line_and_leaves_nothing(
    quick: Command, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("halfstep.lesson.write.line_midi", stopped)
    ran = quick(CHART)
    assert (ran.status, ran.out) == (130, "")
    assert ran.err == "halfstep: stopped; nothing was written\n"
    assert contents(home) == {}


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((b"| Dm7 | Q7 |",), "'Q7' is no chord symbol"),
        ((b"| Dm7 \xff | G7 |",), "line 1, column 7"),
        ((b"gone.mxl",), "no such file: gone.mxl"),
        ((b"| C |", b"--for", b"kazoo"), "no instrument is called 'kazoo'"),
        ((b"| C |", b"--loud"), "unrecognized arguments: --loud"),
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="arguments are no bytes there")
def test_the_same_holds_in_a_process_of_its_own(
    arguments: Sequence[bytes], words: str, home: Path
) -> None:
    line = [os.fsencode(sys.executable), b"-m", b"halfstep", b"lesson", *arguments]
    ran = subprocess.run(line, capture_output=True, cwd=home, timeout=60, check=False)
    assert_refused(Ran(ran.returncode, ran.stdout.decode(), ran.stderr.decode()), words)
    assert contents(home) == {}
