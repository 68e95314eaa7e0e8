"""What should the teacher know of runs? Which chords are not built as the step says."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from itertools import pairwise

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice, notice_of_each
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words, degree_word, listing
from halfstep.etude.step import NoticesOf
from halfstep.harmony.analysis import Analysis
from halfstep.meter import EIGHTH
from halfstep.pitch import Degree
from halfstep.wording import joined_by_and

NUMBER_WORDS = {2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th", 7: "7th"}
Remark = Callable[[Sequence[EtudeNote]], tuple[str, str] | None]
"""What the notes of one chord have to be told of: the lead that it shares with others, and
its own; None for a run that is as the step says."""


def remarks_by_chord(remark: Remark) -> NoticesOf:
    """A notice for each lead, with the remarks of all chords, the bars of equal ones together."""

    def notices(
        analysis: Analysis, _brief: Brief, notes: Sequence[EtudeNote]
    ) -> tuple[Notice, ...]:
        leads: dict[str, dict[tuple[str, str], list[int]]] = {}
        by_chord = _by_chord(notes)
        for index, chord in enumerate(analysis.chords):
            run = [note for note in by_chord[index] if note.degree]
            if run and (remarks := remark(run)):
                lead, text = remarks
                places = leads.setdefault(lead, {})
                places.setdefault((str(chord.span.symbol), text), []).append(index)
        return tuple(
            notice_of_each(lead, [_placed(text, n, analysis) for (_, text), n in places.items()])
            for lead, places in leads.items()
        )

    return notices


def _by_chord(notes: Sequence[EtudeNote]) -> defaultdict[int, list[EtudeNote]]:
    """The notes of each chord, by its index."""
    chords: defaultdict[int, list[EtudeNote]] = defaultdict(list)
    for note in notes:
        chords[note.chord].append(note)
    return chords


def _placed(text: str, indices: Sequence[int], analysis: Analysis) -> tuple[int, str]:
    bars = bars_in_words(analysis.chords[index].span.bar for index in indices)
    return indices[0], f"{{}} in {bars} {text}".rstrip()


def off_its_root(notes: Sequence[EtudeNote]) -> tuple[str, str] | None:
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
    lacking: dict[str, dict[str, list[int]]] = {}
    counts = Counter(note.chord for note in notes)
    for index, degrees in missing_tones(analysis, notes):
        count = counts[index]
        why = _TOO_LONG if count < len(analysis.chords[index].core) else _TOO_WIDE
        words = joined_by_and([degree_word(degree) for degree in degrees])
        lacking.setdefault(why, {}).setdefault(words, []).append(index)
    return tuple(_left_out(why, tones, analysis) for why, tones in lacking.items())


def _left_out(why: str, tones: dict[str, list[int]], analysis: Analysis) -> Notice:
    texts = [
        f"the {words} in {bars_in_words(analysis.chords[n].span.bar for n in indices)}"
        for words, indices in tones.items()
    ]
    return Notice(min(next(iter(tones.values()))), f"{why}: {listing(texts)}")


def missing_tones(analysis: Analysis, notes: Sequence[EtudeNote]) -> list[tuple[int, list[Degree]]]:
    """The chords, by index, that are played without some tones of their arpeggio, and which."""
    lacking = []
    by_chord = _by_chord(notes)
    for index, chord in enumerate(analysis.chords):
        degrees = {note.degree for note in by_chord[index] if note.degree}
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


_TOO_LONG = "where the notes are too long for all tones of the chord, some are left out"
_TOO_WIDE = "where your range has no room for all tones of the chord, some are left out"
_OFF_ROOT = "where the root would be out of range or too big a leap, start on another tone"


def built_on(notes: Sequence[EtudeNote], base: EtudeNote) -> tuple[str, str] | None:
    """A remark on a run whose base is not its root; one that begins or ends there is at home."""
    degrees = [note.degree.number for note in notes if note.degree]
    if len(degrees) < 3 or 1 in {degrees[0], degrees[-1]}:
        return None
    word = NUMBER_WORDS.get(base.degree.number if base.degree else 1, "")
    return (_OFF_ROOT, f"on its {word}") if word else None
