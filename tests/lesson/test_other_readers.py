"""Do other programs read our MusicXML as it is meant? Same bars played, chords and notes.

References: a notation program (``mscore3``), LilyPond's importer with LilyPond itself
(``musicxml2ly``, ``lilypond``) and the library music21, each in the version at hand; a test
is skipped where its reader is not installed.

What a reader does not do is not asked of it: LilyPond plays no jumps, music21 takes no jump
after endings, and both have no second segno; all but ours go back to a pickup at *D.C.*
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import mido
import pytest

from halfstep.harmony.tones import chord_tones
from halfstep.pitch import Pitch, name_at
from halfstep.progression.form import has_pickup, play_order
from halfstep.progression.quality import Family
from halfstep.progression.sheet import LeadSheet, SheetNote
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.services.read_chart import write_chart
from reference_files import DATA
from strategies import COMMON
from typed_charts import load_sheet

LOWEST = 24
"""The MIDI note of the first bar in a sheet whose bars are told apart by their notes."""

HEAD = "key: F\nmeter: 4/4\ntempo: 132\nfeel: swing\n"
FORMS = {
    "endings": "|: F | G7 |1. C7 :|2. F | Bb | F |]",
    "long endings": "|: F | G7 |1. C7 | F :|2. F | Bb || C | C |]",
    "three endings": "|: F | G7 |1.2. C7 :|3. F | Bb |]",
    "two repeats": "|: F | G7 :|: C7 | F :| Bb |]",
    "three times": "{pickup 1} C7 |: F | G7 :|x3 Bb | F |]",
}
JUMPS = {
    "D.S. al Coda": "| F | {segno} G7 | C7 {to coda} | F {D.S. al coda} | {coda} Bb | F |]",
    "D.C. al Fine": "| F | G7 | C7 {fine} | F {D.C. al fine} |]",
    "D.C.": "|: F | G7 :|: C7 | F :| Bb {D.C.} |]",
    "D.S. al Fine": "| F | {segno} G7 | C7 {fine} | F {D.S. al fine} |]",
}
JUMPS_FROM_ENDINGS = {
    "ending, D.S. al Coda": "| Bb | {segno} C7 |: F {to coda} | G7 |1. C7 :|2. F {D.S. al coda} |\n"
    "[B]\n| {coda} Bb | F |]",
    "ending, D.C. al Fine": "|: F | G7 |1. C7 :|2. F {fine} ||\n| Bb | F {D.C. al fine} |]",
}


def told_apart(sheet: LeadSheet) -> LeadSheet:
    """The sheet with one note a bar, a half step higher each time."""
    bars = []
    for place, bar in enumerate(sheet.bars):
        length = bar.beats or bar.meter.bar_beats
        bars.append(bar._replace(notes=(SheetNote(Fraction(0), length, of_midi(LOWEST + place)),)))
    return replace(sheet, bars=tuple(bars))


def of_midi(midi: int) -> Pitch:
    names = [name_at(fifths) for fifths in range(-5, 7)]
    name = next(name for name in names if Pitch(name, 4).midi % 12 == midi % 12)
    return Pitch(name, 4 + (midi - Pitch(name, 4).midi) // 12)


def order(sheet: LeadSheet) -> list[int]:
    marks = [bar.marks for bar in sheet.bars]
    return list(play_order(marks, first=int(has_pickup(sheet.bars)))[0])


def written(sheet: LeadSheet, folder: Path, name: str = "sheet") -> Path:
    path = folder / f"{name}.musicxml"
    path.write_text(write_chart(sheet, "musicxml").text, encoding="utf-8")
    return path


def midi_notes(path: Path) -> list[int]:
    """The notes of a MIDI file as they begin."""
    onsets = []
    for track in mido.MidiFile(path).tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                onsets.append((now, message.note))
    return [note for _, note in sorted(onsets)]


def carried_out(*command: object, folder: Path) -> None:
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "XDG_RUNTIME_DIR": str(folder)}
    subprocess.run(
        [str(word) for word in command],
        check=True, capture_output=True, cwd=folder, env=environment, timeout=120,
    )  # fmt: skip


def by_notation_program(paths: list[Path]) -> Iterator[list[int]]:
    converted([(path, path.with_suffix(".mid")) for path in paths])
    return (midi_notes(path.with_suffix(".mid")) for path in paths)


def converted(pairs: list[tuple[Path, Path]]) -> None:
    """Files made of others by one run of the notation program, which takes long to start."""
    folder = pairs[0][1].parent
    jobs = [{"in": str(source), "out": str(target)} for source, target in pairs]
    (folder / "jobs.json").write_text(json.dumps(jobs), encoding="utf-8")
    carried_out("mscore3", "-j", folder / "jobs.json", folder=folder)


def by_lilypond(paths: list[Path]) -> Iterator[list[int]]:
    """Without the chords, which it plays before the notes."""
    folder = paths[0].parent
    sources = [path.with_suffix(".ly") for path in paths]
    for path, source in zip(paths, sources, strict=True):
        text = re.sub(r"<harmony.*?</harmony>", "", path.read_text("utf-8"), flags=re.DOTALL)
        path.write_text(text, encoding="utf-8")
        carried_out("musicxml2ly", "--midi", "-o", source, path, folder=folder)
    carried_out("lilypond", "-dno-print-pages", *sources, folder=folder)
    return (midi_notes(next(folder.glob(f"{path.stem}.mid*"))) for path in paths)


def by_music21(paths: list[Path]) -> Iterator[list[int]]:
    for path in paths:
        notes = parsed(path).parts[0].expandRepeats().recurse().notes
        begun = [n for n in notes if n.isNote and (n.tie is None or n.tie.type == "start")]
        yield [n.pitch.midi for n in begun]


def parsed(path: Path) -> Any:
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return converter.parse(path, forceSource=True)


READERS: dict[str, Callable[[list[Path]], Iterator[list[int]]]] = {
    "mscore3": by_notation_program,
    "lilypond": by_lilypond,
    "music21": by_music21,
}
READ = {
    "mscore3": FORMS | JUMPS | JUMPS_FROM_ENDINGS,
    "lilypond": FORMS,
    "music21": FORMS | JUMPS,
}
"""The forms that each reader plays."""
Played = Callable[[str], dict[str, list[int]]]


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The bars that a reader plays of each of its forms, read in one run of it."""

    @cache
    def played_by(reader: str) -> dict[str, list[int]]:
        if reader != "music21" and shutil.which(reader) is None:
            pytest.skip(f"{reader} is not installed")
        folder = tmp_path_factory.mktemp(reader)
        paths = [
            written(told_apart(load_sheet(HEAD + text)), folder, f"form-{place}")
            for place, text in enumerate(READ[reader].values())
        ]
        lines = zip(READ[reader], READERS[reader](paths), strict=True)
        return {form: [note - LOWEST for note in notes] for form, notes in lines}

    return played_by


def order_of(text: str) -> list[int]:
    """The bars that we play."""
    return order(load_sheet(HEAD + text))


SLOW_LILYPOND = pytest.param("lilypond", marks=pytest.mark.slow)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("reader", ["mscore3", "music21", SLOW_LILYPOND])
@pytest.mark.parametrize("form", FORMS)
def test_repeats_and_endings_are_played_as_we_play_them(
    form: str, reader: str, elsewhere: Played
) -> None:
    assert elsewhere(reader)[form] == order_of(FORMS[form])


@pytest.mark.parametrize("reader", ["mscore3", "music21"])
@pytest.mark.parametrize("form", JUMPS)
def test_jumps_are_played_as_we_play_them(form: str, reader: str, elsewhere: Played) -> None:
    assert elsewhere(reader)[form] == order_of(JUMPS[form])


@pytest.mark.parametrize("form", JUMPS_FROM_ENDINGS)
def test_jumps_out_of_endings_are_played_as_we_play_them(form: str, elsewhere: Played) -> None:
    assert elsewhere("mscore3")[form] == order_of(JUMPS_FROM_ENDINGS[form])


# Chords

SYMBOLS = [
    parse_symbol(f"{root}{suffix}") for root, suffix in zip("CFGADE" * 9, COMMON, strict=False)
]
SYMBOLS += [parse_symbol(text) for text in ("G7b9#11", "C13b9", "Bb9sus4", "D13sus4", "Em7/A")]
SYMBOLS += [parse_symbol(text) for text in ("Cadd9", "Ebm(maj9)", "F#m9b5", "C(b5)", "Ano3")]
SYMBOLS += [parse_symbol(text) for text in ("Bbmaj7#5", "A7b13", "Dm11", "Ab7#9#5", "N.C.")]


def chart_of(symbols: list[ChordSymbol]) -> LeadSheet:
    bars = " | ".join(f"{symbol.ascii}" for symbol in symbols)
    return load_sheet(f"key: C\nmeter: 4/4\n\n| {bars} |]")


def names_read(path: Path) -> Iterator[str]:
    """The symbols as the notation program prints them."""
    converted([(path, path.with_suffix(".mscx"))])
    return names_printed(path)


def names_printed(path: Path) -> Iterator[str]:
    """The symbols in what the notation program made of a sheet."""
    for harmony in ElementTree.parse(path.with_suffix(".mscx")).getroot().iter("Harmony"):
        root, bass = harmony.findtext("root"), harmony.findtext("base")
        over = f"/{name_of_fifths(bass)}" if bass else ""
        yield f"{name_of_fifths(root) if root else ''}{harmony.findtext('name') or ''}{over}"


def name_of_fifths(text: str) -> str:
    return name_at(int(text) - 14).ascii  # the program counts from F double flat


UNREAD_BY_PROGRAM = {"Ebm(maj9)"}
"""Its name for a chord of this kind has no place for a ninth."""


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("mscore3") is None, reason="mscore3 is not installed")
def test_a_notation_program_prints_every_symbol_once(tmp_path: Path) -> None:
    """Its names, read as symbols, are the chords that were written."""
    names = list(names_read(written(chart_of(SYMBOLS), tmp_path)))
    for symbol, name in zip(SYMBOLS, names, strict=True):
        if symbol.ascii not in UNREAD_BY_PROGRAM:
            assert parse_symbol(name) == symbol, name
    assert {"G7b9#11", "N.C."} <= set(names)


UNREAD_BY_MUSIC21 = {"Ebm(maj9)", "F#m9b5"}


@pytest.mark.slow
def test_music21_reads_the_notes_of_every_symbol(tmp_path: Path) -> None:
    """An altered dominant has its root, third and seventh there: the rest is in its text."""
    read = list(
        parsed(written(chart_of(SYMBOLS), tmp_path)).recurse().getElementsByClass("Harmony")
    )
    for symbol, harmony in zip(SYMBOLS, read, strict=True):
        if symbol.silent:
            assert harmony.figure == "N.C."
            continue
        if symbol.ascii in UNREAD_BY_MUSIC21:
            continue
        classes = {pitch.pitchClass for pitch in harmony.pitches} - eleventh(symbol)
        assert classes == pitch_classes(symbol), (symbol.ascii, harmony.figure)


_NOTE = r"[a-g](?:[ie]?s)*"
LILYPOND_CHORD = re.compile(rf"(?<!\S)({_NOTE})1(?::([^\s/]+))?(?:/\+({_NOTE}))?(?!\S)")
"""A chord of a whole bar: root, kind, and a bass that is added."""


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("musicxml2ly") is None, reason="musicxml2ly is not installed")
def test_lilypond_keeps_root_kind_and_bass_of_every_symbol(tmp_path: Path) -> None:
    """Under notes. It drops N.C., the alterations of G7alt., and all chords of open bars.

    A chord is kept where a note or a printed rest follows it; rests that do not print it
    skips, and printed ones would stand in every other program.
    """
    source = tmp_path / "sheet.ly"
    sheet = told_apart(chart_of(SYMBOLS))
    carried_out("musicxml2ly", "-o", source, written(sheet, tmp_path), folder=tmp_path)
    _, after = source.read_text(encoding="utf-8").split("\\chordmode", 1)
    chords = LILYPOND_CHORD.findall(after.partition("}")[0])
    assert [(of_lilypond(root), of_lilypond(bass)) for root, _, bass in chords] == [
        (symbol.root.ascii, symbol.bass.ascii if symbol.bass else "")
        for symbol in SYMBOLS
        if not symbol.silent
    ]
    kinds = {symbol.ascii: kind for symbol, (_, kind, _) in zip(SYMBOLS, chords, strict=False)}
    assert {name: kinds[name] for name in LILYPOND_KINDS} == LILYPOND_KINDS
    open_bars = tmp_path / "open.ly"
    carried_out(
        "musicxml2ly", "-o", open_bars, written(chart_of(SYMBOLS), tmp_path), folder=tmp_path
    )
    assert "chordmode" not in open_bars.read_text(encoding="utf-8")


LILYPOND_KINDS = {
    "G7": "7", "Amaj7": "maj7", "Dm7": "m7", "Gm6": "m6", "Dm9": "m9", "Fsus4": "sus4",
    "A7b9": "7.9-", "D7#9": "7.9+", "G7b9#11": "7.9-.11+", "A7b13": "7.13-", "F7alt": "7",
}  # fmt: skip
"""As the LilyPond Notation Reference writes chords (from memory): degrees by points, + and - for
a raised and a lowered one."""


def of_lilypond(name: str) -> str:
    """A Dutch note name as we type it."""
    return name[:1].upper() + name[1:].replace("is", "#").replace("es", "b").replace("s", "b")


def eleventh(symbol: ChordSymbol) -> set[int]:
    """The eleventh that the standard has in a thirteenth chord, and practice leaves out."""
    left_out = symbol.extension == 13 and symbol.family is not Family.SUS4
    return {(Pitch(symbol.root, 4).midi + 5) % 12} if left_out else set()


def pitch_classes(symbol: ChordSymbol) -> set[int]:
    dominant = parse_symbol(f"{symbol.root.ascii}7") if symbol.alt else symbol
    classes = {Pitch(tone.name, 4).midi % 12 for tone in chord_tones(dominant)}
    return classes | ({Pitch(symbol.bass, 4).midi % 12} if symbol.bass else set())


REFERENCE_SHEETS = sorted((DATA / "musicxml").glob("*.*"))
PLAYED_ELSEWHERE = {
    "maple-leaf-rag": "its Fine stands in a first ending, to which the program does not go back",
    "scarborough-fair": "endings without a repeat: the program plays the last, we play the first",
}


def melody_of(path: Path) -> list[tuple[int, Fraction, Fraction, int]]:
    """Bar, place, length and pitch of each note on a page, as music21 reads it."""
    return [
        (place, _exact(note.getOffsetInHierarchy(bar)), _exact(note.quarterLength), note.pitch.midi)
        for place, bar in enumerate(parsed(path).parts[0].getElementsByClass("Measure"))
        for note in bar.recurse().notes
        if note.isNote
    ]


def _exact(beats: float | Fraction) -> Fraction:
    return Fraction(beats).limit_denominator(96)


@pytest.mark.slow
@pytest.mark.parametrize("path", REFERENCE_SHEETS[::4], ids=lambda path: path.stem)
def test_the_melodies_of_real_sheets_have_the_same_notes_elsewhere(
    path: Path, tmp_path: Path
) -> None:
    """In music21, and in what the notation program makes of them: pitches and lengths."""
    sheet = load_sheet(str(path))
    melody = [
        (place, note.at, note.beats, note.pitch.midi)
        for place, bar in enumerate(sheet.bars)
        for note in bar.notes
    ]
    ours = written(sheet, tmp_path)
    assert melody_of(ours) == melody
    if shutil.which("mscore3"):
        carried_out("mscore3", "-o", tmp_path / "theirs.musicxml", ours, folder=tmp_path)
        assert melody_of(tmp_path / "theirs.musicxml") == melody_of(ours)


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("mscore3") is None, reason="mscore3 is not installed")
def test_real_sheets_with_repeats_are_played_as_we_play_them(tmp_path: Path) -> None:
    """All in one run of the program; a note a bar, as long as there are notes."""
    sheets = {path.stem: load_sheet(str(path)) for path in REFERENCE_SHEETS}
    repeated = {
        name: sheet
        for name, sheet in sheets.items()
        if order(sheet) != [*range(len(sheet.bars))] and len(sheet.bars) < 100
    }
    assert len(repeated) > 5
    paths = [written(told_apart(sheet), tmp_path, name) for name, sheet in repeated.items()]
    lines = by_notation_program(paths)
    differ = {
        name
        for (name, sheet), notes in zip(repeated.items(), lines, strict=True)
        if [note - LOWEST for note in notes] != order(sheet)
    }
    assert differ == PLAYED_ELSEWHERE.keys()


@pytest.fixture(scope="module")
def sheets_elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the reference sheets as written here, and what the program made of them."""
    folder = tmp_path_factory.mktemp("sheets")
    paths = [written(load_sheet(str(path)), folder, path.stem) for path in REFERENCE_SHEETS]
    converted([(path, path.with_suffix(".mscx")) for path in paths])
    return folder


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("mscore3") is None, reason="mscore3 is not installed")
@pytest.mark.parametrize("path", REFERENCE_SHEETS, ids=lambda path: path.stem)
def test_a_notation_program_prints_the_chords_of_real_sheets(
    path: Path, sheets_elsewhere: Path
) -> None:
    """Lead sheets that nobody here wrote, read, written and read by the program."""
    symbols = [chord.symbol for bar in load_sheet(str(path)).bars for chord in bar.chords]
    names = names_printed(sheets_elsewhere / path.name)
    for symbol, name in zip(symbols, names, strict=True):
        if not symbol.ascii.endswith("m(maj9)"):
            assert parse_symbol(name) == symbol, name
