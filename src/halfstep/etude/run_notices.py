"""What should the teacher know of runs? Which chords are not built as the step says."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words, degree_word
from halfstep.etude.step import NoticesOf
from halfstep.harmony.analysis import Analysis
from halfstep.meter import EIGHTH
from halfstep.pitch import Degree
from halfstep.wording import joined_by_and

NUMBER_WORDS = {2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th", 7: "7th"}
Remark = Callable[[Sequence[EtudeNote]], str]
"""What the notes of one chord have to be told of; empty for a run that is as the step says."""


def remarks_by_chord(remark: Remark) -> NoticesOf:
    """Notices with a remark on each chord, the bars of equal ones together."""

    def notices(
        analysis: Analysis, _brief: Brief, notes: Sequence[EtudeNote]
    ) -> tuple[Notice, ...]:
        remarks: dict[tuple[str, str], list[int]] = {}
        for index, chord in enumerate(analysis.chords):
            run = [note for note in notes if note.chord == index and note.degree]
            if run and (text := remark(run)):
                remarks.setdefault((str(chord.span.symbol), text), []).append(index)
        return tuple(_notice(text, chords, analysis) for (_, text), chords in remarks.items())

    return notices


def _notice(remark: str, indices: Sequence[int], analysis: Analysis) -> Notice:
    bars = ", ".join(dict.fromkeys(str(analysis.chords[index].span.bar) for index in indices))
    return Notice(indices[0], f"{{chord}} in bar {bars} {remark}")


def off_its_root(notes: Sequence[EtudeNote]) -> str:
    """A remark on an arpeggio whose lowest note is not the root."""
    return built_on(notes, min(notes, key=lambda note: note.pitch.midi if note.pitch else 0))


def tones_left_out(
    analysis: Analysis, brief: Brief, notes: Sequence[EtudeNote]
) -> tuple[Notice, ...]:
    """Which tones of arpeggios are not played at all, and in which bars.

    Notes that stand already are the teacher's, and chords beside them are not judged.
    """
    if brief.pinned:
        return ()
    lacking: dict[tuple[str, str], list[int]] = {}
    for index, degrees in missing_tones(analysis, notes):
        count = sum(note.chord == index for note in notes)
        why = _TOO_LONG if count < len(analysis.chords[index].core) else _TOO_WIDE
        words = joined_by_and([degree_word(degree) for degree in degrees])
        lacking.setdefault((words, why), []).append(index)
    return tuple(
        Notice(
            indices[0],
            f"{bars_in_words(analysis.chords[n].span.bar for n in indices)}: "
            f"the {words} of the chord {'is' if ' and ' not in words else 'are'} left out, {why}",
        )
        for (words, why), indices in lacking.items()
    )


def missing_tones(analysis: Analysis, notes: Sequence[EtudeNote]) -> list[tuple[int, list[Degree]]]:
    """The chords, by index, that are played without some tones of their arpeggio, and which."""
    lacking = []
    for index, chord in enumerate(analysis.chords):
        degrees = {note.degree for note in notes if note.chord == index and note.degree}
        core = [tone.degree for tone in chord.core] if degrees else []
        if missing := [degree for degree in core if degree not in degrees]:
            lacking.append((index, missing))
    return lacking


def hurried_crossings(notes: Sequence[EtudeNote], brief: Brief) -> list[EtudeNote]:
    """The short notes after which a beginner crosses the register break."""
    barrier = brief.barrier
    if barrier is None:
        return []
    return [
        old
        for old, new in pairwise(notes)
        if old.pitch and new.pitch and old.beats <= EIGHTH
        if (old.pitch.midi <= barrier) != (new.pitch.midi <= barrier)
    ]


_TOO_LONG = "as the notes are too long for more tones"
_TOO_WIDE = "as the range has no room for it"


def built_on(notes: Sequence[EtudeNote], base: EtudeNote) -> str:
    """A remark on a run whose base is not its root; one that begins or ends there is at home."""
    degrees = [note.degree.number for note in notes if note.degree]
    if len(degrees) < 3 or 1 in {degrees[0], degrees[-1]}:
        return ""
    word = NUMBER_WORDS.get(base.degree.number if base.degree else 1, "")
    return (
        f"starts from its {word}: from the root it would go out of range or leap too far"
        if word
        else ""
    )
