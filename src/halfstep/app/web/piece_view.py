"""What does the room know of a piece? Its bars and chords, what changes into them, its drawn lines.

Places are in quarter notes from the first beat of bar 1, lengths on the page in parts of a line's
width; both become seconds and pixels in the browser.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import Any

from halfstep.app.web.chart_bars import joint
from halfstep.app.web.engraving import engraved_warm, in_ink
from halfstep.app.web.line_form import key_words
from halfstep.app.web.page_words import gettext, noted
from halfstep.backing import STYLES
from halfstep.errors import BriefError
from halfstep.lesson.titles import key_read
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM
from halfstep.notation import onsets, sounding_beats
from halfstep.part.change_words import ToldChange, told_between, told_change
from halfstep.part.transposed_part import Part, chords_in_bars
from halfstep.part.transposition import interval_for
from halfstep.progression.chart import Bar
from halfstep.progression.key import Key
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.score_pictures import Picture, draw_systems
from halfstep.render.stretch import LEAD
from halfstep.score import Score
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.room_piece import RoomPiece, room_piece
from halfstep.services.room_sound import BAND, PARTS, RoomSound

LINE_MM, STAFF_MM = 92.0, 6.0
"""Room for a line of music on a phone, and the height of a staff; wider pages show two beside."""
FIRST_LINES = 3
"""So many come with the page; the others a moment later."""
TEMPO_STEP = 5
"""By how much a press makes it faster or slower."""
USUAL_CHORUSES = 2
_SHORTEST_USUAL_S = 45.0


@dataclass(frozen=True, slots=True)
class ShownSystem:
    """A line of music.

    Attributes
    ----------
    svg : str
    share : float
        Of the room for a line that it takes, up to 1.
    anchors : tuple of (float, float)
        Beats, and where on the line they stand, from 0 to 1.
    """

    svg: str
    share: float
    anchors: tuple[tuple[float, float], ...]

    @property
    def begins(self) -> float:
        """Its first beat."""
        return self.anchors[0][0]

    @property
    def data(self) -> dict[str, Any]:
        """For the page's script."""
        return {
            "svg": self.svg,
            "share": self.share,
            "from": self.begins,
            "anchors": self.anchor_text,
        }

    @property
    def anchor_text(self) -> str:
        """The anchors, as an attribute holds them: ``0:.12 1:.2``."""
        return " ".join(f"{beat:g}:{share:g}" for beat, share in self.anchors)


def shown_systems(piece: RoomPiece) -> tuple[ShownSystem, ...]:
    """The lines of music of a piece, for its player."""
    score = piece.reply.score()
    pictures = engraved_warm(partial(draw_systems, score, width_mm=LINE_MM, staff_mm=STAFF_MM))
    starts = _starts(score)
    return tuple(_shown(picture, score, starts) for picture in pictures)


def _starts(score: Score) -> tuple[Fraction, ...]:
    """Where the bars of a score begin, and where the last one ends."""
    lengths = [sounding_beats(bar) for bar in score.bars]
    starts = [-lengths[0] if score.bars[0].number == 0 else Fraction(0)]
    for length in lengths:
        starts.append(starts[-1] + length)
    return tuple(starts)


def _shown(picture: Picture, score: Score, starts: tuple[Fraction, ...]) -> ShownSystem:
    share = min(1.0, picture.width_mm / LINE_MM)
    anchors = dict(_anchors(picture, score, starts))
    return ShownSystem(
        _as_wide(picture, share),
        round(share, 4),
        tuple((_short(beat), _short(mm / picture.width_mm)) for beat, mm in anchors.items()),
    )


def _as_wide(picture: Picture, share: float) -> str:
    """The drawing, sized by its share of a line and not in millimetres."""
    size = f'width="{picture.width_mm:.3f}mm" height="{picture.height_mm:.3f}mm"'
    return in_ink(picture).replace(size, f'width="{100 * share:.2f}%"')


def _anchors(
    picture: Picture, score: Score, starts: tuple[Fraction, ...]
) -> Iterator[tuple[Fraction, float]]:
    """Beats and where they stand, in order: bars, and the heads in them."""
    heads = iter(picture.heads_mm)
    for place, begins_mm in zip(picture.bars, picture.bars_mm, strict=False):
        bar, start = score.bars[place], starts[place]
        yield start, begins_mm
        for note, onset in zip(bar.notes, onsets(bar), strict=True):
            if note.pitch:
                yield start + onset, next(heads)
    yield starts[picture.bars[-1] + 1], picture.bars_mm[-1]


def _short(value: Fraction | float) -> float:
    return round(float(value), 4)


# The controls

PART_WORDS = {
    "drums": noted("drums"),
    "bass": noted("bass"),
    "chords": noted("chords"),
    "line": noted("your line"),
    "click": noted("metronome"),
    "drone": noted("drone"),
}


@dataclass(frozen=True, slots=True)
class ShownBand:
    """What the page shows of a piece before anything sounds.

    Attributes
    ----------
    title, reads : str
        What it is called, and who reads it.
    systems : tuple of ShownSystem
        The first ones.
    has_more : bool
        There are others.
    tempo : str
    slowest, fastest, step : int
        Of tempi.
    parts : tuple of (str, str, bool)
        Who can play, as pages call them, and whether they do at first.
    bars, keys, feels : tuple of (str, str)
        What can be chosen, and how it is called.
    feel : str
    """

    title: str
    reads: str
    systems: tuple[ShownSystem, ...]
    has_more: bool
    tempo: str
    slowest: int
    fastest: int
    step: int
    parts: tuple[tuple[str, str, bool], ...]
    bars: tuple[tuple[str, str], ...]
    keys: tuple[tuple[str, str], ...]
    feels: tuple[tuple[str, str], ...]
    feel: str


def shown_band(reply: EtudeReply) -> ShownBand:
    """A piece as its page shows it first."""
    piece = room_piece(reply)
    chart = piece.etude.analysis.chart
    keys = [(key, _written_key(piece, key)) for key in piece.keys]
    systems = shown_systems(piece)
    return ShownBand(
        title=chart.title,
        reads=reply.part.instrument.label,
        systems=systems[:FIRST_LINES],
        has_more=len(systems) > FIRST_LINES,
        tempo=f"{piece.tempo_bpm:g}",
        slowest=SLOWEST_BPM,
        fastest=FASTEST_BPM,
        step=TEMPO_STEP,
        parts=tuple((part, PART_WORDS[part], part in BAND) for part in PARTS),
        bars=tuple(
            (str(place), bar.label.removeprefix("bar "))
            for place, bar in enumerate(chart.form, start=1)
        ),
        keys=tuple((key.ascii, _key_choice(written, key)) for key, written in keys),
        feels=tuple((style.name, style.title) for style in STYLES),
        feel=piece.style.name,
    )


def _key_choice(written: Key, concert: Key) -> str:
    """A key as its player reads it, in the language of the page."""
    words = key_words(written)
    if written == concert:
        return words
    return gettext("%(written)s (concert %(key)s)", written=words, key=key_words(concert))


# The piece


def piece_data(sound: RoomSound) -> dict[str, Any]:
    """A piece as it is to be played and followed."""
    piece, clock = sound.piece, sound.clock
    chart = piece.etude.analysis.chart
    chorus_s = clock.seconds(sound.beats)
    return {
        "title": chart.title,
        "tempo_bpm": piece.tempo_bpm,
        "key": piece.key.ascii,
        "keys": [_key(piece, key) for key in piece.keys],
        "feel": piece.style.name,
        "feels": [{"name": style.name, "words": style.title} for style in STYLES],
        "meter": str(chart.meter),
        "pulse_beats": float(chart.meter.pulse_beats),
        "quarters_a_minute": clock.beats_per_minute,
        "swing": clock.swing,
        "count_in_beats": float(sound.count_in_beats),
        "ending_beats": float(sound.ending_beats),
        "choruses": USUAL_CHORUSES if chorus_s < _SHORTEST_USUAL_S else 1,
        "block": sound.block,
        "chorus_beats": float(sound.beats),
        "chorus_s": chorus_s,
        "lead_s": LEAD / FRAME_RATE,
        "bars": list(_bars(piece.reply.part)),
        "stretches": [[stretch.first, stretch.last] for stretch in sound.stretches],
        "parts": list(PARTS),
        "marks": sound.marks,
    }


def _key(piece: RoomPiece, key: Key) -> dict[str, str]:
    """A key: how it is asked for, and how its player calls it."""
    return {"name": key.ascii, "read": key_read(_written_key(piece, key), key)}


def _written_key(piece: RoomPiece, key: Key) -> Key:
    return key + interval_for(key, piece.reply.part.instrument)


def _bars(part: Part) -> Iterator[dict[str, Any]]:
    """The bars of the form with their chords as the player reads them."""
    for bar, start, chords in chords_in_bars(part.analysis):
        names = [_chord(part, start, at, chord) for at, chord in chords]
        yield {
            "number": bar.label,
            "section": bar.section,
            "start": float(start),
            "beats": float(bar.beats),
            "pulses": [float(pulse) for pulse in _pulses(bar)],
            "chords": names,
        }


def _pulses(bar: Bar) -> Iterator[Fraction]:
    pulse = Fraction(0)
    while pulse < bar.beats:
        yield pulse
        pulse += bar.meter.pulse_beats


def _chord(part: Part, start: Fraction, at: Fraction, chord: int) -> dict[str, Any]:
    """A chord of a bar; where it only goes on, nothing changes."""
    is_new = part.analysis.chords[chord].span.start == start + at
    return {
        "beat": float(at),
        "name": str(part.symbol(chord)),
        **_joint(told_change(part, chord) if is_new else None),
    }


def _joint(told: ToldChange | None) -> dict[str, Any]:
    """What changes, as it stands between two chords."""
    drawn = joint(told)
    return {
        "moves": [[move.old, move.new] for move in drawn.moves],
        "more": drawn.more,
        "words": drawn.words,
    }


def turn_data(piece: RoomPiece, first: int, last: int) -> dict[str, Any]:
    """What changes where the last of some bars turns into the first one.

    Parameters
    ----------
    piece : RoomPiece
    first, last : int
        Bars by their places in the form, from 1.

    Raises
    ------
    BriefError
        When the form has no such bars.
    """
    part = piece.reply.part
    form = piece.etude.analysis.chart.form
    if not 1 <= first <= last <= len(form):
        raise BriefError(f"`bars`: the form has bars 1 to {len(form)}")
    start = sum((bar.beats for bar in form[: first - 1]), Fraction(0))
    end = sum((bar.beats for bar in form[first - 1 : last]), start)
    spans = [chord.span for chord in piece.etude.analysis.chords]
    begun = max(place for place, span in enumerate(spans) if span.start <= start)
    ended = max(place for place, span in enumerate(spans) if span.start < end)
    return _joint(told_between(part, ended, begun))
