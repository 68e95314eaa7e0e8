"""What is said of a line that is made of figures, or of the scales of a step?"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice, notice_of_each
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words
from halfstep.etude.sentences import EXAMPLES, PartLine
from halfstep.etude.step import NoticesOf
from halfstep.etude.step_scales import has_scale_of_step
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.wording import joined_by_and

ChordTest = Callable[[AnalysedChord], bool]
NOTES = 4
"""So many notes name a figure."""


def figure_named(line: PartLine) -> str:
    """The first notes of the line."""
    names = " ".join(line.name(note) for note in line.notes[:NOTES])
    return f"The figure begins with {names} in {line.place(line.notes[0])}."


def scales_named(line: PartLine) -> str:
    """The notes of the first chords' scales, in the order of the scale."""
    texts: dict[str, str] = {}
    for notes in line.by_chord():
        symbol = str(line.part.symbol(notes[0].chord))
        by_degree = {note.degree: line.name(note) for note in notes if note.degree}
        names = [by_degree[degree] for degree in sorted(by_degree, key=lambda d: d.semitones)]
        if len(names) > len(texts.get(symbol, "").split()):
            texts[symbol] = " ".join(names)
    shown = [f"{names} over {symbol}" for symbol, names in list(texts.items())[:EXAMPLES]]
    return f"The notes are {joined_by_and(shown)}." if shown else ""


def where_none_fits(lead: str) -> NoticesOf:
    """A notice of the chords that the scale of a step does not fit, with their bars."""
    return notice_of_chords(lead, lambda chord: not has_scale_of_step(chord))


def notice_of_chords(lead: str, is_meant: ChordTest) -> NoticesOf:
    """One notice of all chords of a kind, with their bars; none where there is none."""

    def notices(
        analysis: Analysis, _brief: Brief, _notes: Sequence[EtudeNote]
    ) -> tuple[Notice, ...]:
        sounding = (n for n, chord in enumerate(analysis.chords) if not chord.silent)
        return notice_of_places(
            lead, analysis, [n for n in sounding if is_meant(analysis.chords[n])]
        )

    return notices


def notice_of_places(lead: str, analysis: Analysis, places: Sequence[int]) -> tuple[Notice, ...]:
    """What holds of those chords, the bars of equal ones together."""
    bars: dict[str, tuple[int, list[int]]] = {}
    for place in places:
        span = analysis.chords[place].span
        bars.setdefault(str(span.symbol), (place, []))[1].append(span.bar)
    texts = [(place, f"{{}} in {bars_in_words(numbers)}") for place, numbers in bars.values()]
    return (notice_of_each(lead, texts),) if texts else ()
