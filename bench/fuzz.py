"""Does any input crash a reader, hang it, or get past it to crash a writer?

Run ``python bench/fuzz.py READER MINUTES [--engine atheris|hypothesis] [--finds FOLDER]``;
READER is one of midi, text, musicxml, chordpro, abc, lab, grid, symbol. The engine atheris
(Apache-2.0) is guided by coverage; hypothesis (MPL-2.0) recombines what the files hold.
Both start from the files under ``../shared/data``, read where they lie.

Conventions
-----------
- An input is read, then played and written in every form. Each step works or raises an
  error of `halfstep.errors`; what is written in a text form reads back.
- A ``ReadError`` about something inside a text states line and column, both within it.
- A step may take 2 s of processor time for each 10 kB of input.
- A find is counted once for each step, kind of error and line of code; its smallest input
  is kept, and made smaller at the end.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import io
import os
import random
import re
import resource
import signal
import sys
import tempfile
import traceback
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from time import monotonic
from types import FrameType
from typing import Any

DATA = Path(__file__).resolve().parents[2] / "shared" / "data"
LIMIT_S = 2.0
LIMIT_PER_BYTES = 10_000
MEMORY_BYTES = 1_000_000_000
LONGEST_SEED = 12_000
MAX_INPUT = 16_000
BATCH = 400
ENGINES = ("atheris", "hypothesis")
MODULES = (
    "halfstep.app.terminal.chart_command",
    "halfstep.progression.notations.abc_reader",
    "halfstep.progression.notations.abc_writer",
    "halfstep.progression.notations.chordpro_reader",
    "halfstep.progression.notations.harte_reader",
    "halfstep.progression.notations.musicxml_reader",
    "halfstep.render.musicxml_writer",
    "halfstep.progression.notations.text_reader",
    "halfstep.progression.notations.midi_line",
    "mido",
)
"""Read and written by; the last three where no sheet is made."""

WHOLE_FILE = re.compile(
    r"longer than|larger than|bar \S+ lasts more than|more than \d+ (?:bars|notes)"
    r"|no (?:ABC notation|labels|chords|chord symbols|bars|notes|parts|tune|MusicXML score)"
    r"|compressed file|is empty|entities|decoded|repeats make more than"
    r"|no whole MIDI file|counts frames"
)
"""Faults of a file as a whole; all others have a place."""


class TooSlow(BaseException):
    """A step that used up its time; no reader may catch it."""


@dataclass(frozen=True)
class Reader:
    """How one kind of input is read, where its seeds lie, and what it is made of."""

    read: Callable[[bytes], Any]
    suffixes: tuple[str, ...]
    pieces: tuple[str, ...]
    mutate: Callable[[random.Random, bytes, Sequence[bytes]], bytes]
    has_places: bool = True
    makes_sheets: bool = True


@dataclass
class Finds:
    """What was found, one input for each kind, and how many inputs were run."""

    reader: Reader
    runs: int = 0
    read: int = 0
    inputs: dict[str, bytes] = field(default_factory=dict)

    def run(self, data: bytes) -> None:
        """Check one input and keep what goes wrong."""
        self.runs += 1
        self.read += "" in list(self._kept(data))

    def _kept(self, data: bytes) -> Iterator[str]:
        for fault in faults(self.reader, data):
            if fault and len(data) < len(self.inputs.get(fault, data + b" ")):
                self.inputs[fault] = data
            yield fault


# One input


def faults(reader: Reader, data: bytes) -> Iterator[str]:
    """What goes wrong with an input; an empty text where it could be read."""
    limit_s = LIMIT_S * max(1.0, len(data) / LIMIT_PER_BYTES)
    value, fault = _tried("read", partial(reader.read, data), limit_s)
    if isinstance(fault, str):
        yield fault
    elif fault is not None:
        yield from _misplaced(fault, data) if reader.has_places else ()
    elif value is not None:
        yield ""
        for step, work in _steps(value) if reader.makes_sheets else ():
            _, fault = _tried(step, work, limit_s)
            if isinstance(fault, str):
                yield fault


def _tried(step: str, work: Callable[[], Any], limit_s: float) -> tuple[Any, Any]:
    """What the work returns, and a text for a fault or the program's own error."""
    from halfstep.errors import HalfstepError

    signal.setitimer(signal.ITIMER_VIRTUAL, limit_s, 1.0)
    try:
        return work(), None
    except HalfstepError as error:
        return None, error
    except (Exception, TooSlow) as error:
        return None, f"{step}: {_kind(error)}"
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)


def _kind(error: BaseException) -> str:
    """The error and the line of ours that it comes from."""
    if isinstance(error, TooSlow):
        return "TooSlow"
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "halfstep" in frame.filename] or list(frames)
    said = f" ({error})" if isinstance(error, AssertionError) else ""
    return f"{type(error).__name__} in {Path(ours[-1].filename).name}:{ours[-1].lineno}{said}"


def _misplaced(error: Any, data: bytes) -> Iterator[str]:
    """A place that is missing, or lies outside the text; a message of several lines."""
    said = _said(error)
    if len(error.message.splitlines()) != 1:
        yield f"read: message of several lines: {said!r}"
    if error.line is None or error.column is None:
        if not WHOLE_FILE.search(error.message):
            yield f"read: no place: {said!r}"
        return
    lines = _text(data).splitlines() or [""]
    if not 1 <= error.line <= len(lines) + 1 or error.column < 1:
        yield f"read: place outside the text: {said!r}"
    elif error.line <= len(lines) and error.column > len(lines[error.line - 1]) + 1:
        yield f"read: column outside the line: {said!r}"


def _said(error: Any) -> str:
    """What an error says, without what it quotes."""
    return re.sub(r"(['\"]).*\1|\d+", "_", error.message)[:60]


def _steps(sheet: Any) -> Iterator[tuple[str, Callable[[], Any]]]:
    """What is done with a sheet."""
    from halfstep.app.terminal.chart_grid import grid_lines
    from halfstep.data.chart_json import chart_data
    from halfstep.progression.form import played
    from halfstep.services.read_chart import ReadChart, read_chart

    yield "played", partial(played, sheet)
    yield "data", partial(chart_data, sheet)
    yield "page", lambda: list(grid_lines(read_chart(ReadChart(sheet))))
    for form in ("text", "abc", "chordpro", "musicxml"):
        yield form, partial(_round_trip, sheet, form)


def _round_trip(sheet: Any, form: str) -> None:
    """Write and read again; plain text must read, others may say that they do not."""
    from halfstep.errors import HalfstepError, ReadError
    from halfstep.services.read_chart import write_chart

    try:
        written = write_chart(sheet, form)
        text, losses = written.text, written.losses
    except HalfstepError:
        return
    try:
        READERS[form].read(text.encode())
    except ReadError as error:
        if form == "text" or not any("reads back" in loss for loss in losses):
            raise AssertionError(_said(error)) from error


# The readers


def _text(data: bytes) -> str:
    return data.decode(errors="replace")


def _read_text(data: bytes) -> Any:
    from halfstep.progression.notations.text_reader import read_sheet_text

    return read_sheet_text(_text(data))


def _read_abc(data: bytes) -> Any:
    from halfstep.progression.notations.abc_reader import read_abc_text

    return read_abc_text(_text(data))


def _read_chordpro(data: bytes) -> Any:
    from halfstep.progression.notations.chordpro_reader import read_chordpro_text

    return read_chordpro_text(_text(data))


def _read_lab(data: bytes) -> Any:
    from halfstep.progression.notations.harte_reader import read_lab_text

    return read_lab_text(_text(data))


def _read_grid(data: bytes) -> Any:
    from halfstep.progression.notations.harte_reader import read_grid_text

    return read_grid_text(_text(data))


def _read_musicxml(data: bytes) -> Any:
    """Plain or compressed as it is; what begins with Z is compressed here first."""
    from halfstep.progression.notations.musicxml_reader import read_musicxml_sheet

    path = Path(tempfile.gettempdir()) / f"halfstep-fuzz-{os.getpid()}.musicxml"
    path.write_bytes(_zipped(data[1:]) if data.startswith(b"Z") else data)
    return read_musicxml_sheet(path)


def _zipped(data: bytes) -> bytes:
    held = io.BytesIO()
    container = '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>'
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("a.xml", data)
    return held.getvalue()


def _read_midi(data: bytes) -> Any:
    from halfstep.progression.notations.midi_line import midi_line

    line = midi_line(data)
    line.tempo.seconds(line.notes[-1].onset + line.notes[-1].beats)
    return line


def _read_symbol(data: bytes) -> Any:
    from halfstep.harmony.tones import chord_tones
    from halfstep.progression.symbol import in_words, parse_symbol

    symbol = parse_symbol(_text(data))
    chord_tones(symbol)
    in_words(symbol)
    assert parse_symbol(symbol.ascii) == symbol
    return symbol


# What inputs are made of


def mutated_text(rng: random.Random, data: bytes, pool: Sequence[bytes]) -> bytes:
    """Lines or words dropped, doubled, swapped, or taken from another input or the pieces."""
    keep = re.compile(rb"(\n)" if rng.random() < 0.4 else rb"(\s+|[|\[\]{}\":()]+)")
    parts = keep.split(data)
    for _ in range(rng.randint(1, 6)):
        at = rng.randrange(len(parts) + 1)
        other = rng.choice(keep.split(rng.choice(pool)))
        end = min(len(parts), at + rng.choice((0, 0, 1, 1, 3)))
        parts[at:end] = rng.choice(([other], [b"".join(parts[at:end]) * 2], [], [other, b" "]))
    return b"".join(parts)[:MAX_INPUT]


def mutated_xml(rng: random.Random, data: bytes, pool: Sequence[bytes]) -> bytes:
    """Elements dropped, doubled, moved, or with another text or attribute."""
    from xml.etree import ElementTree as Tree

    zipped = data.startswith(b"Z")
    try:
        root = Tree.fromstring(data[1:] if zipped else data)
        other = Tree.fromstring(rng.choice([each for each in pool if each.startswith(b"<")]))
    except (Tree.ParseError, ValueError, LookupError):
        return mutated_text(rng, data, pool)
    elements, measures = list(root.iter()), list(root.iter("measure"))
    if measures and root.find(".//harmony") is None:
        rng.choice(measures).insert(0, Tree.fromstring(_HARMONY))
    for _ in range(rng.randint(1, 5)):
        one = rng.choice(measures if measures and rng.random() < 0.2 else elements)
        _change_element(rng, one, rng.choice([*elements, *other.iter()]))
    with contextlib.suppress(RecursionError, ValueError, TypeError):
        text: bytes = Tree.tostring(root)
        zipped = zipped != (rng.random() < 0.1)
        return (b"Z" * zipped + text)[: 2 * MAX_INPUT]
    return data


def _change_element(rng: random.Random, one: Any, two: Any) -> None:
    import copy

    act = rng.randrange(16)
    if act < 3 and len(one):
        one.remove(rng.choice(list(one)))
    elif act < 7 and len(two) < 40:
        one.insert(rng.randint(0, len(one)), copy.deepcopy(two))
    elif act < 11:
        one.text = rng.choice((two.text, *_NUMBERS))
    elif act < 13 and one.attrib:
        one.set(rng.choice(list(one.attrib)), rng.choice(_NUMBERS))
    elif act < 15:
        one.attrib.update(two.attrib)
    else:
        one.tag = two.tag


def mutated_midi(rng: random.Random, data: bytes, pool: Sequence[bytes]) -> bytes:
    """Events put in, cut out and moved, with the lengths of the tracks mended."""
    chunks = re.split(rb"MTrk....", data, flags=re.DOTALL)
    place = rng.randrange(len(chunks))
    body = bytearray(chunks[place])
    for _ in range(rng.randint(1, 6)):
        at = rng.randint(0, len(body))
        end = at + rng.choice((0, 1, 2, 4, 16))
        body[at:end] = rng.choice((b"", bytes([rng.randrange(256)]), rng.choice(pool)[:64]))
    chunks[place] = bytes(body[:MAX_INPUT])
    head, *tracks = chunks
    return head + b"".join(b"MTrk" + len(t).to_bytes(4, "big") + t for t in tracks)


_NUMBERS = ("", "0", "-1", "1", "99", "1000000", "999999999", "0.000001", "-999999999", "x", "٣")
_CHORDS = (
    "C", "Dm7", "G7", "F#m7b5", "Bbmaj7/D", "N.C.", "E7#9", "Ab6/9", "C:maj7", "H",
)  # fmt: skip
_SIGNS = (
    "|", "||", "|:", ":|", ":|x99", "|]", "[|", "::", "%", ".", "/", "\n", " ", "1.", "2.3.",
)  # fmt: skip
_TEXT = (
    "title: A\n", "key: Eb\n", "meter: 7/4 2+2+3\n", "tempo: 90\n", "feel: swing\n", "{pickup 1}",
    "{pickup 1/3}", "{32/16}", "{1/1}", "{segno}", "{coda}", "{to coda}", "{fine}",
    "{D.C. al fine}", "{D.S. al coda}", "[A]", "# x\n", "\u2028", "\ud7ff",
)  # fmt: skip
_CHORDPRO = (
    "{title: A}\n", "{key: F}\n", "{time: 6/8}\n", "{tempo: 80}\n", "{sog}\n", "{eog}\n",
    "{soc: A}\n", "{eoc}\n", "{chorus}\n", "{transpose: -3}\n", "{transpose}\n", "%%", "{ns}\n",
    "{meta: key G}\n", "[C]", "[*x]", "{sot}\n", "|1", "|2>", ":|1,2", "C~G", "*", "Verse:\n",
    "{capo: 2}\n", '{start_of_grid: label="A" shape="4x4"}\n',
)  # fmt: skip
_ABC = (
    "X:1\n", "T:A\n", "M:6/8\n", "M:none\n", "M:C|\n", "L:1/8\n", "Q:1/4=120\n", "K:Eb\n",
    "K:Am clef=bass transpose=-2\n", "K:Hp\n", "P:A(AB)3\n", "P:A\n", "[P:B]", "[M:3/4]",
    "[L:1/16]", "[K:D dor]", "V:2\n", "[V:1]", "U:T=!fine!\n", "!D.C.!", "!segno!", "!coda!",
    "+fine+", '"C"', '"^x"', '"Am;G/B"', "[CEG]", "(3abc", "(9:8:7a", "{ab}", "a3/2", "b''",
    ",,", "_", "^", "=", "-", ">", "<", "z8", "Z4", "x", "y", "&", "[1", "[2,3", "|1", ":|2",
    "w: a\n", "%%score 1\n", "I:linebreak $\n", "m:a=b\n", "s: x\n", "\\\n", "r: x\n",
)  # fmt: skip
_HARTE = (
    "C:maj", "F#:min7/b3", "N", "X", "A:(1,b3,5)", "# metre: 3/4\n", "# tonic: Eb\n",
    "0.0\t1.5\t", "1e400 ", "nan ", "x4", "(5/4)", "A, verse, ", "&pause", "->",
)  # fmt: skip
_EVENTS = (
    b"\x00\xff\x51\x03\x07\xa1\x20", b"\x00\xff\x51\x03\x00\x00\x00",
    b"\x00\xff\x58\x04\x03\x02\x18\x08", b"\x00\xff\x58\x04\x00\xff\x00\x00",
    b"\x00\xff\x2f\x00", b"\x00\x90\x3c\x40", b"\x60\x80\x3c\x00", b"\x00\xf0\x02\x01\xf7",
    b"\xff\xff\xff\x7f", b"\x00\xff\x59\x02\x07\x01", b"\x00\xff\x54\x05\x00\x00\x00\x00\x00",
    b"\x00\xff\x20\x01\x00", b"\x00\xc0\x00", b"\x00\xe0\x00\x40",
)  # fmt: skip
_SUFFIXES = (
    "m", "maj7", "M7", "-", "+", "dim", "ø", "°", "△", "7", "9", "#11", "b13", "alt", "sus4",
    "add", "no3", "omit5", "(", ")", "/", "/B", "b", "#", "♭", "♯", "𝄪", "6/9",
)  # fmt: skip
_BARE = (
    b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk\0\0\0\x0c\0\x90\x3c\x40\x60\x80\x3c\0\0\xff\x2f\0",
    b"| Dm7 G7 | Cmaj7 |\n",
)
"""Small inputs to begin with, of our own."""

_HARMONY = (
    "<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root>"
    '<kind text="7">dominant</kind><bass><bass-step>D</bass-step></bass><degree><degree-value>9'
    "</degree-value><degree-alter>-1</degree-alter><degree-type>add</degree-type></degree>"
    "<offset>1</offset></harmony>"
)
_OWN = (
    b"title: Room Twelve\nkey: Eb\nmeter: 4/4\ntempo: 120\nfeel: swing\n{pickup 1} Bb7\n"
    b"[A] |: Ebmaj7 | Cm7 F7 |1. Bb7 . . E7 :|2. Bb7 {fine} ||\n"
    b"[B] | {segno} Gm7b5/Db | {3/4} C7#9 | {4/4} N.C. | {coda} % {D.C. al fine} |]\n"
)

READERS = {
    "midi": Reader(_read_midi, (".mid",), (), mutated_midi, False, False),
    "text": Reader(_read_text, (), (*_CHORDS, *_SIGNS, *_TEXT, *_NUMBERS), mutated_text),
    "musicxml": Reader(_read_musicxml, (".musicxml", ".xml", ".mxl"), (), mutated_xml),
    "chordpro": Reader(
        _read_chordpro, (".cho", ".crd"), (*_CHORDS, *_SIGNS, *_CHORDPRO), mutated_text
    ),
    "abc": Reader(_read_abc, (".abc",), (*_SIGNS, *_ABC, *_NUMBERS), mutated_text),
    "lab": Reader(_read_lab, (".lab",), (*_HARTE, *_CHORDS, *_NUMBERS, "\n", "\t"), mutated_text),
    "grid": Reader(_read_grid, (".txt",), (*_HARTE, *_CHORDS, *_SIGNS), mutated_text),
    "symbol": Reader(_read_symbol, (), (*_CHORDS, *_SUFFIXES), mutated_text, False, False),
}


def seeds(reader: Reader) -> list[bytes]:
    """The files there are, and small inputs of our own; for text what the others write."""
    files = [path for path in sorted(DATA.rglob("*")) if path.suffix in reader.suffixes]
    found = [path.read_bytes() for path in files if path.stat().st_size <= LONGEST_SEED]
    found += [piece.encode(errors="replace") for piece in reader.pieces[:10]]
    if reader.read is _read_text:
        found += _written("text")
    if reader.read is _read_musicxml:
        found += _written("musicxml") + [_unzipped(data) for data in found if data[:2] == b"PK"]
    return [*_BARE, *found]


def _unzipped(data: bytes) -> bytes:
    """What a compressed score holds, marked to be compressed again."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        names = [name for name in archive.namelist() if not name.startswith("META-INF")]
        return b"Z" + archive.read(names[0]) if names else data


def _written(form: str) -> list[bytes]:
    """The charts in ABC and ChordPro files, and one of our own, in another form."""
    from halfstep.services.read_chart import write_chart

    charts: list[tuple[Any, bytes]] = [(_read_text, _OWN)]
    charts += [(_read_abc, path.read_bytes()) for path in sorted(DATA.rglob("*.abc"))]
    charts += [(_read_chordpro, path.read_bytes()) for path in sorted(DATA.rglob("*.cho"))]
    found = []
    for read, data in charts:
        with contextlib.suppress(Exception):  # what crashes is a find, not a seed
            text = write_chart(read(data), form).text
            found += [text.encode()] * (len(text) <= LONGEST_SEED)
    return found


def _pool(reader: Reader, given: Sequence[bytes]) -> list[bytes]:
    """What a mutation takes from: whole seeds and, as often, single pieces."""
    pieces = [piece.encode(errors="replace") for piece in reader.pieces]
    pieces += _EVENTS if reader.mutate is mutated_midi else ()
    return [*given, *pieces * max(1, len(given) // max(1, len(pieces)))]


# The engines


def with_hypothesis(finds: Finds, until: float, seed: int) -> None:
    """Inputs recombined from the seeds, or put together from pieces."""
    import hypothesis
    from hypothesis import strategies as st

    given = seeds(finds.reader)
    pool = _pool(finds.reader, given)
    small = [piece for piece in pool if len(piece) < 400]
    joined = st.lists(st.sampled_from(small), max_size=40).map(b" ".join)
    changed = st.builds(
        lambda data, rng, times: _many(finds.reader, rng, data, pool, times),
        st.sampled_from(given) | joined,
        st.randoms(use_true_random=True),
        st.integers(1, 4),
    )
    settings = hypothesis.settings(
        max_examples=BATCH,
        deadline=None,
        database=None,
        phases=[hypothesis.Phase.generate],
        suppress_health_check=list(hypothesis.HealthCheck),
    )
    inputs = changed | changed | st.binary(max_size=200)
    inputs = inputs | joined if finds.reader.pieces else inputs | changed
    while monotonic() < until:
        test = hypothesis.given(inputs)(
            lambda data: finds.run(data) if monotonic() < until else None
        )
        hypothesis.seed(seed)(settings(test))()
        seed += 1


def _many(
    reader: Reader, rng: random.Random, data: bytes, pool: Sequence[bytes], times: int
) -> bytes:
    for _ in range(times):
        data = reader.mutate(rng, data, pool)
    return data


def with_atheris(finds: Finds, until: float, seed: int, done: Callable[[], None]) -> None:
    """Inputs guided by coverage; ends the program when the time is over."""
    import atheris  # type: ignore[import-untyped, import-not-found, unused-ignore]

    with atheris.instrument_imports(include=["halfstep", "mido"], enable_loader_override=False):
        for module in MODULES if finds.reader.makes_sheets else MODULES[-3:]:
            importlib.import_module(module)
    given = seeds(finds.reader)
    pool = _pool(finds.reader, given)

    def target(data: bytes) -> None:
        if monotonic() > until:
            done()
            os._exit(0)
        finds.run(data)

    def changed(data: bytes, longest: int, turn: int) -> bytes:
        rng = random.Random(turn)
        if not data or rng.random() < 0.4:
            mutated: bytes = atheris.Mutate(data, longest)
            return mutated
        return finds.reader.mutate(rng, data, pool)[:longest]

    with tempfile.TemporaryDirectory() as folder:
        for place, data in enumerate(given):
            (Path(folder) / f"{place:04}").write_bytes(data)
        flags = [f"-seed={seed}", "-timeout=600", "-rss_limit_mb=0", "-verbosity=0"]
        flags += [f"-max_len={2 * MAX_INPUT}", f"-artifact_prefix={folder}/"]
        atheris.Setup([sys.argv[0], *flags, folder], target, custom_mutator=changed)
        atheris.Fuzz()


# Finds


def smallest(reader: Reader, fault: str, data: bytes, until: float) -> bytes:
    """The input with as much cut out as the fault allows."""
    size = len(data) // 2
    while size and monotonic() < until:
        at = 0
        while at < len(data) and monotonic() < until:
            shorter = data[:at] + data[at + size :]
            if fault in faults(reader, shorter):
                data = shorter
            else:
                at += size
        size //= 2
    return data


def report(name: str, engine: str, minutes: float, finds: Finds, folder: str | None) -> None:
    """Print what was run and found; keep the inputs where a folder is given."""
    print(
        f"{name} {engine}: {finds.runs} runs ({finds.read} read) in {minutes:g} minutes, "
        f"{len(finds.inputs)} finds"
    )
    for place, (fault, data) in enumerate(sorted(finds.inputs.items())):
        data = smallest(finds.reader, fault, data, monotonic() + 20)
        print(f"  {fault}\n    {data[:300]!r}")
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            (Path(folder) / f"{name}-{engine}-{place}").write_bytes(data)
    sys.stdout.flush()


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise TooSlow


def main(name: str, minutes: float, engine: str, *, seed: int, folder: str | None) -> None:
    """Run one engine on one reader."""
    signal.signal(signal.SIGVTALRM, _stop)
    finds = Finds(READERS[name])
    until = monotonic() + 60 * minutes
    done = partial(report, name, engine, minutes, finds, folder)
    resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_BYTES, MEMORY_BYTES))
    if engine == "hypothesis":
        with_hypothesis(finds, until, seed)
        done()
    else:
        with_atheris(finds, until, seed, done)


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("reader", choices=READERS)
    asked.add_argument("minutes", type=float)
    asked.add_argument("--engine", choices=ENGINES, default="atheris")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--finds", help="a folder for the inputs found")
    given = asked.parse_args()
    try:
        main(given.reader, given.minutes, given.engine, seed=given.seed, folder=given.finds)
    except ModuleNotFoundError as error:
        sys.exit(f"fuzz: {error.name} is not installed; install it with: pip install {error.name}")
