"""``halfstep hear``: the notes of a recording, as a table or in a file.

A table shows the beginning and the end of a long take and its doubtful notes; all notes are
in the files.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from pathlib import Path

from halfstep.app.terminal.columns import padded, text_width, wrapped
from halfstep.app.terminal.out_file import out_path
from halfstep.data.take_json import heard_data
from halfstep.errors import BriefError, TakeError
from halfstep.instruments import INSTRUMENTS, Instrument, find_instrument
from halfstep.lesson.take_page import picture_of
from halfstep.level import Level
from halfstep.listen.hear import hear
from halfstep.listen.notes import Heard
from halfstep.meter import Meter
from halfstep.part.take_part import Reads, played_part, written_score
from halfstep.pitch import Pitch
from halfstep.render.take_picture import clock_text, png_bytes, take_svgs
from halfstep.render.wav_file import loop_start_s

ProgressBar = Callable[[int], AbstractContextManager[Callable[[str], None]]]
"""Given the pieces of work there are; inside, told each one that is done."""

SUFFIXES = (".mid", ".musicxml", ".json", ".png", ".svg")

_BEYOND = 2
"""A player may go so many semitones over the range of an advanced one."""
_MOST, _FIRST, _LAST = 24, 12, 6
"""More notes than the first are cut to those at the beginning and the end."""
_DOUBTFUL, _MOST_DOUBTFUL = 0.7, 5
_HUNDREDTHS = 100


def hear_take(asked: argparse.Namespace, *, tempo_bpm: float, progress: ProgressBar) -> None:
    """Do what ``halfstep hear`` was asked for."""
    out = None if asked.out is None else out_path(asked.out, SUFFIXES)
    concert = INSTRUMENTS["concert"]
    player = concert if asked.instrument is None else find_instrument(asked.instrument)
    take = _recording(asked.take, "")
    backing = None if asked.backing is None else _recording(asked.backing, "--backing ")
    heard = _heard(take, backing, player, progress)
    count_in_s = (backing and loop_start_s(backing)) or 0.0
    reads = Reads(heard, player, take.stem, count_in_s)
    if out is None:
        print("\n".join(table_lines(reads)))
        return
    said = [*heard.notices, *deliver(reads, out, tempo_bpm)]
    for notice in said:
        print(f"note: {notice}", file=sys.stderr)


def _heard(take: Path, backing: Path | None, player: Instrument, progress: ProgressBar) -> Heard:
    low_midi, high_midi = _range(player)
    with progress(_HUNDREDTHS) as step:
        done = 0

        def tell(share: float) -> None:
            nonlocal done
            while done < round(share * _HUNDREDTHS):
                done += 1
                step("listening")

        return hear(take, backing=backing, low_midi=low_midi, high_midi=high_midi, progress=tell)


def _range(player: Instrument) -> tuple[int, int]:
    """Concert limits as MIDI numbers; none where the player is not known."""
    if player is INSTRUMENTS["concert"]:
        return 0, 127
    compass = player.compass(Level.ADVANCED)
    return (
        player.concert(compass.low).midi - _BEYOND,
        player.concert(compass.high).midi + _BEYOND,
    )


def _recording(given: str, option: str) -> Path:
    """A file that is there.

    Raises
    ------
    TakeError
    """
    path = Path(given)
    try:
        is_file, exists = path.is_file(), path.exists()
    except (OSError, ValueError):  # a name that no system takes
        is_file = exists = False
    if not is_file:
        what = "is a folder; give a recording" if exists else "there is no such file"
        raise TakeError(f"{option}{given!r}: {what}")
    return path


# Files


def deliver(reads: Reads, out: Path, tempo_bpm: float) -> tuple[str, ...]:
    """Write what was heard in the form that the file's name ends in.

    Returns
    -------
    tuple of str
        What should be said of the file.

    Raises
    ------
    TakeError
        When there is no note to write.
    BriefError
    """
    from halfstep.files import write_whole

    suffix = out.suffix.lower()
    if not reads.heard.notes and suffix != ".json":
        raise TakeError(f"{reads.title}: no note is heard, so there is nothing to write")
    files, said = _FORMS[suffix](reads, tempo_bpm)
    names = [out, *(out.with_stem(f"{out.stem}-page-{n}") for n in range(2, len(files) + 1))]
    try:
        for name, data in zip(names, files, strict=True):
            write_whole(name, data)
    except OSError as error:
        raise BriefError(f"cannot write to {out}: {error.strerror or error}") from error
    if len(files) > 1:
        said = (*said, f"the picture has {len(files)} pages, up to {names[-1].name}")
    return said


Written = tuple[list[bytes], tuple[str, ...]]
"""The bytes of each file, and what should be said of them."""


def _json(reads: Reads, _tempo_bpm: float) -> Written:
    text = json.dumps(heard_data(reads), ensure_ascii=False, indent=1)
    return [f"{text}\n".encode()], ()


def _midi(reads: Reads, tempo_bpm: float) -> Written:
    from halfstep.render.midi_file import midi_bytes

    part = played_part(reads, tempo_bpm)
    data = midi_bytes([part], meter=Meter(), tempo_bpm=tempo_bpm, title=reads.title)
    return [data], reads.said


def _musicxml(reads: Reads, tempo_bpm: float) -> Written:
    from halfstep.render.musicxml_writer import musicxml_text

    score, said = written_score(reads, tempo_bpm)
    return [musicxml_text(score).encode()], said


def _svg(reads: Reads, _tempo_bpm: float) -> Written:
    notices = (f"note: {notice}" for notice in reads.heard.notices)
    picture = picture_of(reads, [" · ".join(_facts(reads)), *notices])
    return [page.encode() for page in take_svgs(picture)], ()


def _png(reads: Reads, tempo_bpm: float) -> Written:
    pages, said = _svg(reads, tempo_bpm)
    return [png_bytes(page.decode()) for page in pages], said


_FORMS: dict[str, Callable[[Reads, float], Written]] = {
    ".mid": _midi, ".musicxml": _musicxml, ".json": _json, ".png": _png, ".svg": _svg,
}  # fmt: skip


# The table


def table_lines(reads: Reads, *, columns: int | None = None) -> Iterator[str]:
    """What was heard, in lines.

    Parameters
    ----------
    reads : Reads
    columns : int, optional
        Width to stay in; the terminal's when not given.
    """
    columns = max(20, columns or shutil.get_terminal_size().columns)
    for text in (reads.title, " · ".join(_facts(reads))):
        yield from wrapped(text, columns)
    if reads.heard.notes:
        yield ""
        yield from _table(reads)
    if doubtful := _doubtful(reads):
        yield ""
        yield from wrapped(doubtful, columns)
    for notice in reads.heard.notices:
        yield from wrapped(f"note: {notice}", columns)


def _printed(figure: float, form: str = "d") -> str:
    """A whole number with a true minus sign."""
    return f"{round(figure):{form}}".replace("-", "−")


def _facts(reads: Reads) -> Iterator[str]:
    heard = reads.heard
    transposes = reads.player.rise.semitones != 0
    yield f"{reads.player.label}{', written pitch' if transposes else ''}"
    pitches = reads.pitches()
    yield f"{len(pitches)} note{'s' * (len(pitches) != 1)} in {clock_text(heard.length_s)}"
    if pitches:
        low, high = (end(pitches, key=lambda pitch: pitch.midi) for end in (min, max))
        yield f"{low} to {high}"
        hz = 440 * 2 ** (heard.tuning_cents / 1200)
        yield f"tuned {_printed(heard.tuning_cents, '+d')} cents (A = {hz:.1f} Hz)"
    if heard.delay_s is not None:
        yield f"backing {1000 * heard.delay_s:.0f} ms late"
    if heard.leak_db is not None:
        yield f"leaks in at {_printed(heard.leak_db)} dB"


def _table(reads: Reads) -> Iterator[str]:
    """The notes in columns, or the beginning and the end of them."""
    pitches = reads.pitches()
    cut = len(pitches) > _MOST
    shown = [*range(_FIRST), *range(len(pitches) - _LAST, len(pitches))] if cut else None
    rows = [_cells(reads, pitches, place) for place in shown or range(len(pitches))]
    note = "written" if reads.player.rise.semitones else "note"
    lines = list(_aligned([["onset", "length", note, "cents", "level", "certainty"], *rows]))
    if cut:
        left_out = len(pitches) - _FIRST - _LAST
        lines.insert(_FIRST + 1, f"  … {left_out} more; --out FILE.json or FILE.png has them")
    yield from lines


def _cells(reads: Reads, pitches: Sequence[Pitch], place: int) -> list[str]:
    note = reads.heard.notes[place]
    return [
        clock_text(note.onset_s, 2),
        f"{note.offset_s - note.onset_s:.2f} s",
        str(pitches[place]),
        _printed(note.cents, "+d"),
        f"{_printed(note.level_db)} dB",
        f"{100 * note.certainty:.0f} %",
    ]


def _aligned(rows: list[list[str]]) -> Iterator[str]:
    """Columns to the right, but for the names of notes."""
    widths = [max(map(text_width, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = [
            padded(cell, width) if place == 2 else " " * (width - text_width(cell)) + cell
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()


def _doubtful(reads: Reads) -> str:
    """The notes to listen to again, least certain first; empty when there are none."""
    notes = list(zip(reads.heard.notes, reads.pitches(), strict=True))
    doubtful = sorted(
        (pair for pair in notes if pair[0].certainty < _DOUBTFUL), key=lambda p: p[0].certainty
    )
    if not doubtful:
        return ""
    named = (f"{pitch} at {clock_text(note.onset_s, 2)}" for note, pitch in doubtful)
    first = [text for text, _ in zip(named, range(_MOST_DOUBTFUL), strict=False)]
    more = f" and {len(doubtful) - len(first)} more" if len(doubtful) > len(first) else ""
    return f"doubtful, listen again: {', '.join(first)}{more}"
