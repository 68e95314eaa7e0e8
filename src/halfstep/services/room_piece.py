"""What is played in the practice room? An etude in the key, tempo and style that are asked for.

A line keeps its notes at every tempo and in every style. In another key it is moved as it is, in
the octave that lies in its player's notes; where it fits in none it is written anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

from halfstep.errors import BriefError
from halfstep.etude.ending_choice import bar_at_home
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.offers import Impossible
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import AnalysedChord, Analysis, analyse
from halfstep.lesson.keys_page import KEYS, by_fourths, fitting_octave
from halfstep.lesson.manner import feel_played
from halfstep.part.transposed_part import part_for
from halfstep.part.transposition import interval_of_fifths, moved_to
from halfstep.pitch import UNISON, Interval, turn_of
from halfstep.progression.key import Key, parse_key
from halfstep.services.band_fields import style_named
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.request_fields import demand_tempo

if TYPE_CHECKING:
    from halfstep.backing import Style

_KEPT = 64


@dataclass(frozen=True, slots=True)
class RoomWish:
    """How a piece is to be played; what is empty is as the piece has it.

    Attributes
    ----------
    tempo_bpm : float or None
        Pulses a minute.
    key : str
        Concert.
    feel : str
        The name of a style of the band.
    """

    tempo_bpm: float | None = None
    key: str = ""
    feel: str = ""


AS_WRITTEN = RoomWish()


@dataclass(frozen=True)
class RoomPiece:
    """An etude as it is played in the room.

    Attributes
    ----------
    reply : EtudeReply
    home : Key
        The key that it was written in.
    """

    reply: EtudeReply
    home: Key

    @property
    def etude(self) -> Etude:
        """The line, in concert pitch."""
        return self.reply.etude

    @property
    def key(self) -> Key:
        """The concert key that is played."""
        return self.etude.analysis.home

    @property
    def tempo_bpm(self) -> float:
        """Pulses a minute."""
        return self.etude.brief.tempo_bpm

    @cached_property
    def style(self) -> Style:
        """How the band plays."""
        return self.reply.brief.band_style

    @property
    def keys(self) -> tuple[Key, ...]:
        """All that it can be asked for in, by fourths from its own."""
        return tuple(self.home + by_fourths(self.home, fourths) for fourths in range(KEYS))


def room_piece(reply: EtudeReply, wish: RoomWish = AS_WRITTEN) -> RoomPiece:
    """An etude as it is asked for.

    Raises
    ------
    BriefError
        When there is no such tempo or style, or no line keeps the rules in the key.
    ReadError
        When the key is none.
    """
    demand_tempo(wish.tempo_bpm)
    home = reply.etude.analysis.home
    key = parse_key(wish.key) if wish.key else home
    moved = reply if key == home else _in_key(SameEtude(reply), key)
    style = style_named(wish.feel) if wish.feel else moved.style
    brief = moved.etude.brief
    tempo_bpm = wish.tempo_bpm or brief.tempo_bpm
    feel = feel_played(moved.etude.analysis.chart, style, brief.feel) if wish.feel else brief.feel
    etude = replace(moved.etude, brief=replace(brief, tempo_bpm=tempo_bpm, feel=feel))
    return RoomPiece(replace(moved, etude=etude, style=style), home)


class SameEtude:
    """An etude that is the same as itself alone: what is kept for it need not look through it."""

    def __init__(self, reply: EtudeReply) -> None:
        self.reply = reply

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SameEtude) and other.reply is self.reply

    def __hash__(self) -> int:
        return id(self.reply)


@lru_cache(_KEPT)
def _in_key(same: SameEtude, key: Key) -> EtudeReply:
    """The etude in another key, moved where it can be."""
    reply, old = same.reply, same.reply.etude
    home = old.analysis.home
    chart = moved_to(replace(old.analysis.chart, key=home), key)
    analysis = analyse(chart, level=old.brief.level)
    octave = fitting_octave(old, _interval(old.analysis.home, analysis.home))
    etude = _written_anew(old, analysis) if octave is None else _moved(old, analysis, octave)
    whole = reply.whole and replace(
        reply.whole, chart=moved_to(replace(reply.whole.chart, key=home), key)
    )
    part = part_for(analysis, reply.part.instrument)
    return replace(reply, etude=etude, part=part, whole=whole)


def _interval(old: Key, new: Key) -> Interval:
    return interval_of_fifths(new.fifths - old.fifths)


def _moved(old: Etude, analysis: Analysis, octave: Interval) -> Etude:
    interval = _interval(old.analysis.home, analysis.home)
    pairs = zip(old.analysis.chords, analysis.chords, strict=True)
    intervals = [interval + octave + _turn(before, after, interval) for before, after in pairs]

    def moved(note: EtudeNote) -> EtudeNote:
        if note.pitch is None:
            return note
        below = tuple(head + intervals[note.chord] for head in note.below)
        return note._replace(pitch=note.pitch + intervals[note.chord], below=below)

    ending = old.ending and old.ending._replace(
        bar=bar_at_home(analysis), note=moved(old.ending.note)
    )
    return replace(
        old,
        analysis=analysis,
        notes=tuple(map(moved, old.notes)),
        pickup=tuple(map(moved, old.pickup)),
        ending=ending,
    )


def _turn(before: AnalysedChord, after: AnalysedChord, interval: Interval) -> Interval:
    """From a chord as the interval gives it to the same one as its page spells it."""
    if before.silent:
        return UNISON
    moved, spelled = before.span.symbol.root + interval, after.span.symbol.root
    return turn_of((moved.fifths - spelled.fifths) // 12)


def _written_anew(old: Etude, analysis: Analysis) -> Etude:
    try:
        return write_etude(old.step, analysis, replace(old.brief, pinned=()))
    except Impossible as refused:
        part = part_for(analysis, old.brief.instrument)
        raise BriefError(f"`key`: {refused.sentence(part)}") from None
