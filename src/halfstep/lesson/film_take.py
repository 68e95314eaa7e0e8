"""What happens when in the film of a take? The take on its staff, and the findings as they sound.

Conventions are those of `halfstep.lesson.film_timeline`; the recording itself is the sound, from a
little before its first bar. A head is marked where its note was played, not where it was meant.

A recording of a person is private: the film says no more of whose it is than it is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from halfstep.feedback.finding_signs import as_played, marked_staff, sign_word, signed
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote
from halfstep.feedback.take_staff import TakeStaff
from halfstep.lesson.feedback_pages import WORD_MEANINGS, take_manner
from halfstep.lesson.film_timeline import (
    TITLE_S,
    FilmBar,
    FilmChord,
    FilmChorus,
    FilmFinding,
    FilmHead,
    FilmTimeline,
    PlacedHead,
    one_after_another,
)
from halfstep.notation import onsets, sounding_beats
from halfstep.part.change_words import told_change
from halfstep.part.chord_text import chord_text
from halfstep.part.places import bar_number
from halfstep.score import Mark

LEAD_S = 1.5
"""How much of the recording is heard before its first bar."""
FINDING_S = 2.5
"""How long a finding is said at most."""
_NEAREST = Fraction(1, 2)
"""Quarter notes: a head belongs to a note that is no farther from it."""
_CHANGES = {
    FindingKind.CHANGE_HEARD: "the change is heard",
    FindingKind.CHANGE_MISSED: "the change is missed",
}


@dataclass(frozen=True)
class FilmTake:
    """A take that is filmed.

    Attributes
    ----------
    feedback : Feedback
    called : str
        What its player is called in the film; empty for nobody.
    heading : str
        What was played.
    """

    feedback: Feedback
    called: str
    heading: str

    @property
    def take(self) -> JudgedTake:
        """The take as it was judged."""
        return self.feedback.take

    @cached_property
    def staff(self) -> TakeStaff:
        """The take with its signs on its player's staff."""
        return marked_staff(self.feedback, title=self.heading)

    @cached_property
    def starts(self) -> tuple[Fraction, ...]:
        """Where the bars of the staff begin, and where the last one ends."""
        return (
            *self.staff.starts,
            self.staff.starts[-1] + sounding_beats(self.staff.score.bars[-1]),
        )

    @property
    def from_s(self) -> float:
        """Where in the recording the film begins to be heard."""
        return max(0.0, self.take.time_s(float(self.starts[0])) - LEAD_S)

    def film_s(self, file_s: float) -> float:
        """When in the film a place of the recording is heard."""
        return TITLE_S + max(0.0, file_s - self.from_s)

    def beat_s(self, beats: Fraction | float) -> float:
        """When in the film a place on the take's clock is."""
        return self.film_s(self.take.time_s(float(beats)))


def take_timeline(film: FilmTake) -> FilmTimeline:
    """When everything happens in the film of a take."""
    chart = film.take.chart
    return FilmTimeline(
        title=film.called or "A take",
        heading=film.heading,
        reader=film.take.part.instrument.label,
        manner=take_manner(film.feedback),
        task="",
        score=film.staff.score,
        sound_s=TITLE_S,
        clicks=(),
        choruses=tuple(_choruses(film)),
        bars=tuple(_bars(film, {bar.number: bar.section for bar in chart.form})),
        heads=tuple(one_after_another(list(_heads(film)))),
        chords=tuple(_chords(film)),
        music_end_s=film.beat_s(film.starts[-1]),
        findings=tuple(_findings(film)),
    )


def _chorus(film: FilmTake, start: Fraction) -> int:
    """The pass that a place lies in; what precedes bar 1 belongs to the first."""
    return max(0, int(start // film.take.chart.beats)) + 1


def _choruses(film: FilmTake) -> Iterator[FilmChorus]:
    chart, clock = film.take.chart, film.take.clock
    tempo_bpm = round(60 / clock.quarter_s / float(chart.meter.tempo_beats), 1)
    first, last = _chorus(film, film.starts[0]), _chorus(film, film.starts[-2])
    for number in range(first, last + 1):
        start = max(film.starts[0], (number - 1) * chart.beats)
        end = min(film.starts[-1], number * chart.beats)
        yield FilmChorus(number, film.beat_s(start), film.beat_s(end), tempo_bpm)


def _bars(film: FilmTake, sections: dict[int, str]) -> Iterator[FilmBar]:
    form = {bar.number: bar for bar in film.take.chart.form}
    section = ""
    for place, bar in enumerate(film.staff.score.bars):
        start, end = film.starts[place], film.starts[place + 1]
        section = sections.get(bar.number) or ("" if bar.number == 1 else section)
        label = f"bar {bar_number(form[bar.number])}" if bar.number in form else ""
        times_s = film.beat_s(start), film.beat_s(end)
        yield FilmBar(place, _chorus(film, start), *times_s, label, section)


def _heads(film: FilmTake) -> Iterator[PlacedHead]:
    notes = as_played(film.feedback)[0].notes
    tied = False
    for place, bar in enumerate(film.staff.score.bars):
        for number, (note, at) in enumerate(zip(bar.notes, onsets(bar), strict=True)):
            if note.pitch is None:
                tied = False
                continue
            onset, end = film.starts[place] + at, film.starts[place] + at + note.beats
            late_s = 0.0 if tied else _late_s(film, onset, notes)
            times_s = film.beat_s(onset) + late_s, film.beat_s(end) + late_s
            yield PlacedHead(FilmHead(place, number, *times_s, not tied), onset, end)
            tied = bool(note.marks & Mark.TIE)


def _late_s(film: FilmTake, onset: Fraction, notes: Sequence[TakeNote]) -> float:
    """How much later than it stands a head was played."""
    note = min(notes, key=lambda note: abs(note.place - onset), default=None)
    if note is None or abs(note.place - onset) > _NEAREST:
        return 0.0
    return film.beat_s(note.sounded) - film.beat_s(onset)


def _chords(film: FilmTake) -> Iterator[FilmChord]:
    part, beats = film.take.part, film.take.chart.beats
    first, end = film.starts[0], film.starts[-1]
    for number in range(_chorus(film, first), _chorus(film, film.starts[-2]) + 1):
        for place, chord in enumerate(part.analysis.chords):
            start = chord.span.start + (number - 1) * beats
            until = min(end, start + chord.span.beats)
            if start >= until or until <= first:
                continue
            symbol = part.symbol(place)
            yield FilmChord(
                film.beat_s(start),
                film.beat_s(until),
                chord_text(symbol, Fraction(0)),
                symbol,
                told_change(part, place),
                place,
            )


def _findings(film: FilmTake) -> Iterator[FilmFinding]:
    findings = sorted(signed(film.feedback.findings), key=lambda finding: finding.time_s)
    starts = [film.film_s(finding.time_s) for finding in findings]
    following = (*starts[1:], float("inf"))
    for finding, start_s, next_s in zip(findings, starts, following, strict=False):
        yield FilmFinding(start_s, min(start_s + FINDING_S, next_s), finding_words(finding))


def finding_words(finding: Finding) -> str:
    """What was found, in a few words."""
    word = sign_word(finding)
    if finding.kind in _CHANGES:
        words = _CHANGES[finding.kind] + (f" {word}" if word in {"late", "early"} else "")
    elif finding.note and finding.instead:
        words = word
    else:
        words = WORD_MEANINGS.get(finding.kind, word)
    return f"{finding.chord}: {words}" if finding.chord else words
