"""Note by note against the written line: what was left out, added, changed, or late.

A stretch of the line that is left out is told once; going back and starting again are no
faults. What the ear is known to do is not told of the player: a note struck again that rings
on in a room, one note heard as two, a ghost an octave from its neighbour.

Source: common practice, no source; a note out of its place is heard from 30 ms on
(`halfstep.listen.known_errors` has the ear's own spread), told from twice that.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import exp
from statistics import median
from typing import NamedTuple

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.findings import Finding, FindingKind, Unit
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import LaidTake
from halfstep.feedback.line_alignment import APART_BEATS, Alignment, Match
from halfstep.feedback.note_roles import note_roles
from halfstep.feedback.take_note import TakeNote
from halfstep.feedback.written_line import sounding_places
from halfstep.pitch import Pitch

STRETCH_NOTES = 8
"""So many notes left out in a row are told as one stretch."""
IN_TIME_BEATS = 0.6
"""How far the player may be from where he was, so that what lies between was left out."""
LATE_MS, LATE_BEATS, LATE_SPREADS = 60.0, 0.12, 4.0
"""How late a note must be against its neighbours: in time, in beats, and against how evenly
the others are played."""
_NEIGHBOURS = 6
_SURE = 0.97
_RINGS_ON, _SLURRED, _SPLIT, _GHOST, _SHORTEST_S = 0.5, 0.85, 0.4, 0.55, 0.05
_EDGE_CENTS = 35.0


def line_findings(taken: LaidTake) -> Iterator[Finding]:
    """What the take has otherwise than its written line; nothing of an improvised one."""
    reader = _reader_of(taken.take)
    if reader is None:
        return
    pitches = [roled.pitch for roled in note_roles(taken)]
    yield from reader.missed()
    yield from reader.added(pitches)
    yield from reader.changed(pitches)
    yield from reader.late()


class LineShare(NamedTuple):
    """How many written notes were played as written, and how many there were to play."""

    right: int
    written: int


def line_share(take: JudgedTake) -> LineShare | None:
    """How much of its line a take has, octaves aside; None for an improvised one."""
    reader = _reader_of(take)
    if reader is None:
        return None
    matches = reader.alignment.matches
    left_out = sum(len(reader.meant_to_sound(gap)) for gap in reader.gaps())
    changed = sum(1 for _ in reader.other_notes())
    return LineShare(len(matches) - changed, len(matches) + left_out)


def _reader_of(take: JudgedTake) -> _LineReader | None:
    if take.alignment is None or not take.alignment.matches:
        return None
    usual = _usual_lates(take.alignment)
    return _LineReader(take, take.alignment, sounding_places(take.line), usual)


class _LeftOut(NamedTuple):
    """A written note that was not heard.

    Attributes
    ----------
    written : int
        Its place in the line.
    meant, late : float
        Where it stands, in quarter notes, and how late the player was there.
    """

    written: int
    meant: float
    late: float


@dataclass(frozen=True, slots=True)
class _LineReader:
    """A take read by its line, and where the line's notes stand in the etude.

    ``usual`` is how late notes are, in quarter notes, by the part of the beat they stand on.
    """

    take: JudgedTake
    alignment: Alignment
    etude_places: Sequence[int]
    usual: Mapping[float, float]

    # Left out

    def missed(self) -> Iterator[Finding]:
        """Written notes between those that were heard, and before and after them."""
        for gap in self.gaps():
            if len(gap) >= STRETCH_NOTES:
                yield self._stretch(gap)
            else:
                yield from map(self._missed_note, self.meant_to_sound(gap))

    def meant_to_sound(self, gap: Sequence[_LeftOut]) -> list[_LeftOut]:
        """The notes of a gap without ghost notes, which a player may swallow."""
        notes = self.alignment.line.notes
        return [left for left in gap if notes[left.written].onset not in self.take.ghosts]

    def gaps(self) -> Iterator[list[_LeftOut]]:
        """Written notes in a row that were left out."""
        matches = self.alignment.matches
        yield self._before()
        yield from map(self._between, matches, matches[1:])
        yield self._after()

    def _between(self, match: Match, following: Match) -> list[_LeftOut]:
        """The written notes that were passed over."""
        late = self.alignment.late(match)
        in_time = abs(self.alignment.late(following) - late) <= IN_TIME_BEATS
        if following.jumped and not in_time:
            return []
        return self._written(match, self.alignment.meant(following), late)

    def _before(self) -> list[_LeftOut]:
        """What precedes the first note that was heard, in its pass."""
        first = self.alignment.matches[0]
        if first.chorus or abs(self.alignment.late(first)) > IN_TIME_BEATS:
            return []
        notes = self.alignment.line.notes[: first.written]
        return [
            _LeftOut(place, float(note.onset), self._usual_late(place))
            for place, note in enumerate(notes)
        ]

    def _after(self) -> list[_LeftOut]:
        """What follows the last one to the end of its pass, where the recording goes on.

        Nothing of a player who is in another bar: the band ends before the line does.
        """
        last = self.alignment.matches[-1]
        late = self.alignment.late(last)
        if abs(late) > IN_TIME_BEATS:
            return []
        end = min((last.chorus + 1) * self.alignment.line.beats, self.take.end - late)
        rest = self._written(last, end, late)
        return rest if len(rest) < STRETCH_NOTES else []

    def _written(self, match: Match, end: float, late: float) -> list[_LeftOut]:
        """The written notes after a match and before a place."""
        line = self.alignment.line
        places: list[_LeftOut] = []
        late -= self._usual_late(match.written)
        written, chorus = match.written + 1, match.chorus
        while True:
            if written == len(line.notes):
                written, chorus = 0, chorus + 1
            meant = float(line.notes[written].onset) + chorus * line.beats
            if meant >= end - _NEAR:
                return places
            places.append(_LeftOut(written, meant, late + self._usual_late(written)))
            written += 1

    def _usual_late(self, written: int) -> float:
        """How late the player plays what stands on the same part of the beat."""
        return self.usual.get(float(self.alignment.line.notes[written].onset) % 1, 0.0)

    def _stretch(self, gap: Sequence[_LeftOut]) -> Finding:
        first, last = gap[0], gap[-1]
        start, until = self.take.place_at(first.meant), self.take.place_at(last.meant)
        return Finding(
            kind=FindingKind.MISSED,
            fault=True,
            place=start,
            time_s=self.take.time_s(first.meant + first.late),
            certainty=_SURE,
            etude_note=self.etude_places[first.written],
            bars=self.take.bars_touched(start, until),
            until=until,
        )

    def _missed_note(self, left_out: _LeftOut) -> Finding:
        place = self.etude_places[left_out.written]
        note = self.take.line[place]
        return Finding(
            kind=FindingKind.MISSED,
            fault=True,
            place=self.take.place_at(left_out.meant),
            time_s=self.take.time_s(left_out.meant + left_out.late),
            certainty=self._missed_certainty(left_out),
            note=self.take.part.pitch(note),
            chord=self._symbol(note.chord),
            etude_note=place,
        )

    def _missed_certainty(self, left_out: _LeftOut) -> float:
        """Less where the note before is heard through this one: the ear may have lost it.

        Least where both have one pitch, since a note struck again rings on in a room. Where the
        ear is unsure of the notes beside it, it may have taken three for two.
        """
        notes, at = self.take.notes, left_out.meant + left_out.late
        after = bisect_left(self.alignment.onsets, at + _NEAR)
        beside = min((n.certainty for n in notes[max(0, after - 1) : after + 1]), default=1.0)
        if not after:
            return _SURE * beside
        before, written = notes[after - 1], self.alignment.line.notes[left_out.written]
        end = before.onset + before.beats
        if before.midi == written.midi and end > at + _NEAR:
            return _RINGS_ON
        return beside * (_SLURRED if end > at + float(written.beats) / 2 else _SURE)

    # Added

    def added(self, pitches: Sequence[Pitch]) -> Iterator[Finding]:
        """Heard notes that are none of the line's, by the written pitches of all that are heard."""
        for place in self.alignment.added:
            note = self.take.notes[place]
            chord = self.take.chord_at(note.onset)
            yield Finding(
                kind=FindingKind.ADDED,
                fault=True,
                place=self.take.place_at(float(note.place)),
                time_s=self.take.time_s(note.sounded),
                certainty=note.certainty * self._added_certainty(place),
                note=pitches[place],
                chord=self._symbol(chord),
            )

    def _added_certainty(self, place: int) -> float:
        """Less where the ear is known to hear more than there is."""
        notes, note = self.take.notes, self.take.notes[place]
        around = [notes[near] for near in (place - 1, place + 1) if 0 <= near < len(notes)]
        if any(near.midi == note.midi for near in around):
            return _SPLIT
        octaves = any((near.midi - note.midi) % 12 == 0 for near in around)
        is_short = note.beats * self.take.clock.quarter_s < _SHORTEST_S
        return _GHOST if octaves or is_short else _SURE

    # Changed

    def other_notes(self) -> Iterator[tuple[Match, EtudeNote]]:
        """Notes in the place of written ones, and those; another octave of the same is none."""
        for match in self.alignment.matches:
            meant = self.take.line[self.etude_places[match.written]]
            midi = self.take.notes[match.heard].midi
            if meant.pitch is not None and (midi - meant.pitch.midi) % 12:
                yield match, meant

    def changed(self, pitches: Sequence[Pitch]) -> Iterator[Finding]:
        """Other notes, by the written pitches of all that are heard."""
        for match, meant in self.other_notes():
            note = self.take.notes[match.heard]
            yield Finding(
                kind=FindingKind.CHANGED,
                fault=True,
                place=self.take.place_at(float(note.place)),
                time_s=self.take.time_s(note.sounded),
                certainty=_pitch_certainty(note),
                note=pitches[match.heard],
                instead=self.take.part.pitch(meant),
                chord=self._symbol(meant.chord),
                etude_note=self.etude_places[match.written],
            )

    # Late

    def late(self) -> Iterator[Finding]:
        """Single notes that come late against those around them."""
        matches = self.alignment.matches
        lags = self._lags()
        if len(matches) < _NEIGHBOURS:
            return
        spread = 1.48 * median(map(abs, lags))
        quarter_ms = 1000 * self.take.clock.quarter_s
        least = max(LATE_MS / quarter_ms, LATE_BEATS, LATE_SPREADS * spread)
        for match, lag in zip(matches, lags, strict=True):
            if not least <= lag <= APART_BEATS:
                continue
            note = self.take.notes[match.heard]
            meant = self.take.line[self.etude_places[match.written]]
            yield Finding(
                kind=FindingKind.LATE_NOTE,
                fault=True,
                place=self.take.place_at(self.alignment.meant(match)),
                time_s=self.take.time_s(note.sounded),
                certainty=note.certainty * _beyond((lag - least) * quarter_ms),
                note=self.take.part.pitch(meant),
                chord=self._symbol(meant.chord),
                amount=round(lag * quarter_ms, 1),
                unit=Unit.MS,
                etude_note=self.etude_places[match.written],
            )

    def _lags(self) -> list[float]:
        """How late each matched note is against its neighbours, on the beat and off it apart."""
        matches = self.alignment.matches
        lags = [self.alignment.late(match) - self._usual_late(match.written) for match in matches]
        return [lag - _middle_around(lags, place) for place, lag in enumerate(lags)]

    def _symbol(self, chord: int) -> str:
        return self.take.part.symbol(chord).ascii


_NEAR = 1e-6


def _usual_lates(alignment: Alignment) -> dict[float, float]:
    """How late notes are against their places, by the part of the beat they stand on."""
    lates: dict[float, list[float]] = defaultdict(list)
    for match in alignment.matches:
        kind = float(alignment.line.notes[match.written].onset) % 1
        late = alignment.late(match)
        lates[kind].append(late - round(late))  # a slip of the form is by whole beats
    return {kind: median(values) for kind, values in lates.items()}


def _middle_around(lags: Sequence[float], place: int) -> float:
    """The middle of the lags of the notes around one, without its own."""
    around = [
        *lags[max(0, place - _NEIGHBOURS // 2) : place],
        *lags[place + 1 : place + 1 + _NEIGHBOURS // 2],
    ]
    return median(around) if around else 0.0


def _pitch_certainty(note: TakeNote) -> float:
    """How sure the pitch is: less near the edge to the next semitone."""
    on_edge = note.sound is not None and abs(note.sound.cents) > _EDGE_CENTS
    return note.certainty * (0.6 if on_edge else _SURE)


def _beyond(ms: float) -> float:
    """The chance that what was measured so far over a limit is over it."""
    return 1 / (1 + exp(-(ms + 12.0) / 8.0))
