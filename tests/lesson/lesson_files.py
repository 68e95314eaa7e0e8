"""A written lesson read back by other programs, for the tests beside it.

References: the MusicXML 4.0 XSD (W3C), music21, mido, the standard library's ``wave``,
pypdfium2, and the draft 2020-12 of JSON Schema through jsonschema.
"""

from __future__ import annotations

import json
import re
import struct
import warnings
import wave
from fractions import Fraction
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import mido
import numpy as np
import numpy.typing as npt
import pypdfium2
from lxml import etree

REPOSITORY = Path(__file__).resolve().parents[2]
W3C = REPOSITORY.parent / "shared" / "data" / "w3c-musicxml"
A4_POINTS = (595, 842)
STEMS = ("drums", "bass", "chords")
SMALL = "title: Stairs to Room Twelve\nkey: Bb\n| Cm7 | F7 | Bbmaj7 G7b9 | N.C. Bb6 |"

Data = dict[str, Any]
Samples = npt.NDArray[np.int32]


def lesson_data(folder: Path) -> Data:
    """What ``lesson.json`` holds."""
    data: Data = json.loads((folder / "lesson.json").read_text(encoding="utf-8"))
    return data


def names_in(folder: Path) -> set[str]:
    """The names of all that lies in a folder."""
    return {path.name for path in folder.iterdir()}


def contents(folder: Path) -> dict[str, bytes]:
    """Every file under a folder with its bytes; folders end in a slash."""
    return {
        str(path.relative_to(folder)) + ("/" if path.is_dir() else ""): (
            b"" if path.is_dir() else path.read_bytes()
        )
        for path in folder.rglob("*")
    }


def schema_faults(data: Data) -> list[str]:
    """Where a lesson's data breaks ``docs/lesson.schema.json``."""
    faults = _lesson_validator().iter_errors(data)
    return [f"{'/'.join(map(str, each.absolute_path))}: {each.message[:200]}" for each in faults]


@cache
def _lesson_validator() -> Any:
    """The schema, checked once, with its references written out: looking them up takes longest."""
    from jsonschema import Draft202012Validator

    schema = json.loads((REPOSITORY / "docs" / "lesson.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(_written_out(schema, schema["$defs"]))


def _written_out(schema: Any, named: Data) -> Any:
    """A schema with what its references name in their place.

    What stands beside a reference counts too, unless it only describes.
    """
    if isinstance(schema, list):
        return [_written_out(inner, named) for inner in schema]
    if not isinstance(schema, dict):
        return schema
    beside = {
        key: _written_out(inner, named)
        for key, inner in schema.items()
        if key not in {"$ref", "$defs"}
    }
    if "$ref" not in schema:
        return beside
    target = _written_out(named[schema["$ref"].removeprefix("#/$defs/")], named)
    return beside | ({"allOf": [target]} if beside.keys() - {"description"} else target)


class _LocalSchemas(etree.Resolver):
    """Finds what the schema imports beside it, without a network."""

    def resolve(self, address: str, _public: str, context: object) -> object:
        return self.resolve_filename(str(W3C / address.rsplit("/", 1)[-1]), context)


@cache
def _musicxml_schema() -> etree.XMLSchema:
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_LocalSchemas())
    return etree.XMLSchema(etree.parse(str(W3C / "musicxml.xsd"), parser))


def musicxml_faults(path: Path) -> list[str]:
    """Where a file breaks the W3C's schema."""
    checker = _musicxml_schema()
    checker.validate(etree.parse(str(path)))
    return [f"{path.name} line {each.line}: {each.message}" for each in checker.error_log]


Sounding = list[tuple[Fraction, Fraction, int]]
"""Onset and length in beats, and MIDI number."""


def sounding_in_data(step: Data) -> Sounding:
    """The notes of a step as the data has them, once through and to the end."""
    last = step["ending"]["notes"] if step["ending"] else []
    return [
        (Fraction(note["start"]), Fraction(note["beats"]), note["midi"])
        for note in (*step["notes"], *last)
        if note["midi"] is not None
    ]


@lru_cache(maxsize=1)
def _score_by_music21(path: Path) -> Any:
    """A part as music21 reads it, once for all that is asked of it.

    Chord symbols that it has read before are left out: they take most of the time, and all
    steps of a player have the same. Read from text, the part is not stored for a later run.
    """
    from music21 import converter

    text = path.read_text(encoding="utf-8")
    symbols = tuple(_SYMBOL.findall(text))
    if symbols in _SYMBOLS_READ:
        text = _SYMBOL.sub("", text)
    _SYMBOLS_READ.add(symbols)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of chord degrees it has no name for
        return converter.parseData(text, format="musicxml")


_SYMBOL = re.compile(r"<harmony.*?</harmony>", re.DOTALL)
_SYMBOLS_READ: set[tuple[str, ...]] = set()


def sounding_by_music21(path: Path) -> Sounding:
    """The notes of a part as music21 hears them, transposed and with ties joined.

    The part that music21 keeps is changed in place: copying one takes seconds. What is
    asked of it as written is asked before.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = _score_by_music21(path).parts[0]
        part.toSoundingPitch(inPlace=True)
        part.stripTies(inPlace=True)
        notes = [each for each in part.flatten().notes if not hasattr(each, "chordKind")]
    return [
        (Fraction(each.offset), Fraction(each.quarterLength), each.pitch.midi) for each in notes
    ]


def signature_by_music21(path: Path) -> int:
    """The written key signature of a part in fifths."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        signatures = _score_by_music21(path).recurse().getElementsByClass("KeySignature")
        return int(next(iter(signatures)).sharps)


def sounding_by_mido(path: Path) -> Sounding:
    """The notes of a MIDI file with one voice."""
    file = mido.MidiFile(path)
    found: Sounding = []
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            beat = Fraction(now, file.ticks_per_beat)
            if message.type == "note_on" and message.velocity:
                found.append((beat, Fraction(0), message.note))
            elif message.type in {"note_on", "note_off"}:
                onset, _, midi = found[-1]
                assert midi == message.note
                found[-1] = (onset, beat - onset, midi)
    return found


def programs_by_mido(path: Path) -> set[int]:
    """The General MIDI programs of a file, counted from 0."""
    messages = (each for track in mido.MidiFile(path).tracks for each in track)
    return {each.program for each in messages if each.type == "program_change"}


def samples_in(path: Path) -> Samples:
    """The samples of a sound file, shape (frames, 2)."""
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, 44100)
        data = file.readframes(file.getnframes())
    return np.frombuffer(data, "<i2").reshape(-1, 2).astype(np.int32)


def peak_dbfs(samples: Samples) -> float:
    """The highest sample in decibels below full scale."""
    return float(20 * np.log10(np.abs(samples).max() / 32767))


def loop_in(path: Path) -> tuple[int, int]:
    """First frame of the loop and the frame after its last, from the ``smpl`` chunk."""
    data = path.read_bytes()
    place = 12
    while place < len(data):
        name, size = struct.unpack("<4sI", data[place : place + 8])
        if name == b"smpl":
            assert struct.unpack("<I", data[place + 36 : place + 40]) == (1,)
            start, end = struct.unpack("<2I", data[place + 52 : place + 60])
            return start, end + 1
        place += 8 + size + size % 2
    raise AssertionError(f"{path.name} has no smpl chunk")


def pages_of(path: Path) -> list[str]:
    """The text of every page of a PDF, which must have the size of A4."""
    document = pypdfium2.PdfDocument(path)
    try:
        pages = [document[place] for place in range(len(document))]
        assert {tuple(map(round, page.get_size())) for page in pages} == {A4_POINTS}
        return [page.get_textpage().get_text_bounded() for page in pages]
    finally:
        document.close()


def assert_lesson_holds_together(
    folder: Path, *, heard: slice = slice(None), stems: bool = True
) -> None:
    """All that can be checked of any lesson, whatever the chart.

    Parameters
    ----------
    folder : Path
    heard : slice
        The steps whose parts music21 reads, which takes longest, and whose data are held
        against our schema; all unless a sample is asked for. Every part is held against the
        W3C's schema.
    stems : bool
        The lesson has drums, bass and chords alone, which must add up.
    """
    data = lesson_data(folder)
    assert schema_faults(data | {"players": [_of_steps(p, heard) for p in data["players"]]}) == []
    assert {*data["files"], "lesson.json"} == names_in(folder)
    assert_data_is_consistent(data)
    for player in data["players"]:
        assert_part_is_right(folder, player, alone=len(data["players"]) == 1, heard=heard)
        assert_handout_opens(folder, data, player)
    assert_sound_is_right(folder, data, stems=stems)


def _of_steps(player: Data, steps: slice) -> Data:
    """The data of a player with some of the steps."""
    return player | {"steps": player["steps"][steps]}


def assert_data_is_consistent(data: Data) -> None:
    """Bars, chords and notes each fill the form without a gap."""
    beats = Fraction(data["chart"]["beats"])
    form = [bar for bar in data["chart"]["bars"] if bar["number"] >= 1]
    filled = [form, data["analysis"]["chords"]]
    filled += [step["notes"] for player in data["players"] for step in player["steps"]]
    for pieces in filled:
        ends = [Fraction(each["start"]) + Fraction(each["beats"]) for each in pieces]
        assert [Fraction(each["start"]) for each in pieces] == [0, *ends[:-1]]
        assert ends[-1] == beats
    for player in data["players"]:
        rise = player["written_above_concert"]["semitones"]
        assert len(player["chords"]) == len(data["analysis"]["chords"])
        for step in player["steps"]:
            for note in step["notes"]:
                assert_spelled_as_it_sounds(note, rise)


def assert_spelled_as_it_sounds(note: Data, rise: int) -> None:
    """Concert name, written name and MIDI number are one note."""
    if note["midi"] is None:
        assert note["concert"] is None
        assert note["written"] is None
        return
    from halfstep.pitch import parse_pitch

    assert parse_pitch(note["concert"]).midi == note["midi"]
    assert parse_pitch(note["written"]).midi == note["midi"] + rise


RINGS_FRAMES = 1.5 * 44100
"""How long an ending rings on after its last beat."""
TICKS_BEATS = 0.01
"""How far the ticks of a file may lie from a swung place."""


def swung(beat: Fraction, ratio: float) -> float:
    """Where a place sounds: the halves of each quarter are as ``ratio`` to one."""
    whole, part = divmod(float(beat), 1.0)
    first = ratio / (1 + ratio)
    if part <= 0.5:
        return whole + 2 * part * first
    return whole + first + (2 * part - 1) * (1 - first)


def stem_of(player: Data, step: Data) -> str:
    """What the files of a player's step are called."""
    return f"step-{step['number'] or step['step']}-{player['instrument']}"


def assert_music21_hears_the_data(folder: Path, data: Data, player: Data, step: Data) -> None:
    """A sheet sounds like the data; it begins with the bar of the pickup, in which a step rests."""
    sheet = folder / f"{stem_of(player, step)}.musicxml"
    pickup = Fraction(data["chart"]["pickup_beats"])
    assert signature_by_music21(sheet) == player["written_key_fifths"]
    expected = [(onset + pickup, beats, midi) for onset, beats, midi in sounding_in_data(step)]
    assert sounding_by_music21(sheet) == expected


def assert_part_is_right(
    folder: Path, player: Data, *, alone: bool, heard: slice = slice(None)
) -> None:
    """MusicXML and MIDI of a player sound like the data, MIDI with its swing."""
    data = lesson_data(folder)
    ratio = float(data["swing_ratio"])
    for step in player["steps"][heard]:
        assert_music21_hears_the_data(folder, data, player, step)
    for step in player["steps"]:
        stem = stem_of(player, step)
        expected = sounding_in_data(step)
        assert musicxml_faults(folder / f"{stem}.musicxml") == []
        played = sounding_by_mido(folder / f"{stem}.mid")
        assert [midi for _, _, midi in played] == [midi for _, _, midi in expected]
        for (onset, beats, _), (written, full, _) in zip(played, expected, strict=True):
            assert abs(float(onset) - swung(written, ratio)) < TICKS_BEATS
            assert float(onset + beats) < swung(written + full, ratio) + TICKS_BEATS
        assert programs_by_mido(folder / f"{stem}.mid") == {player["program"]}
        sound = f"step-{step['number'] or step['step']}.wav" if alone else f"{stem}.wav"
        assert (folder / sound).is_file()


def assert_handout_opens(folder: Path, data: Data, player: Data) -> None:
    """The handout has its titles, and not more pages than its systems and tables need."""
    pages = pages_of(folder / f"handout-{player['instrument']}.pdf")
    text = " ".join(" ".join(pages).split())
    titles = [" ".join(data["title"].split())[:40], *(s["title"] for s in player["steps"])]
    assert [title for title in titles if title not in text] == []
    systems = -(-len(data["chart"]["bars"]) // 4) * len(player["steps"])
    rows = len(data["analysis"]["chords"]) + len(data["analysis"]["changes"])
    assert 1 <= len(pages) <= 2 + systems / 6 + rows / 8


def assert_sound_is_right(folder: Path, data: Data, *, stems: bool = True) -> None:
    """Stems add up, nothing clips, lengths are whole choruses and loops say so.

    Behind the loop stands what rings on, and what ends a step, and then the backing too: the
    beats of its bar. A file is filled up to whole packets of an encoder.
    """
    backing, facts = samples_in(folder / "backing.wav"), data["backing"]
    start, end = facts["loop_frames"]
    if stems:
        assert np.array_equal(backing, sum(samples_in(folder / f"{name}.wav") for name in STEMS))
    beat_frames = 60 * 44100 / data["quarters_a_minute"]
    beats = Fraction(data["chart"]["beats"])
    assert start == round(Fraction(facts["count_in_beats"]) * beat_frames)
    assert facts["choruses"] % facts["block_choruses"] == 0
    block = round(beats * facts["block_choruses"] * beat_frames)
    assert end == start + facts["choruses"] // facts["block_choruses"] * block
    assert facts["step_loop_frames"] == [start, start + round(beats * beat_frames)]
    ending = facts["ending"]
    bar = Fraction(ending["beats"]) * beat_frames if ending else 0
    steps = {step["number"]: bool(step["ending"]) for p in data["players"] for step in p["steps"]}
    assert any(steps.values()) == bool(ending)
    for path in folder.glob("*.wav"):
        samples = samples_in(path)
        word, *rest = path.stem.split("-")
        of_step = word in {"step", "line"}
        ends = steps[int(rest[0])] if of_step else bool(ending)
        assert peak_dbfs(samples) <= -1.0, path.name
        assert np.abs(samples[start:]).max() > 0, path.name
        loop = tuple(facts["step_loop_frames"]) if of_step else (start, end)
        assert loop_in(path) == loop, path.name
        behind = len(samples) - loop[1] - RINGS_FRAMES - bar * ends
        assert -1 <= behind <= 1024, path.name
