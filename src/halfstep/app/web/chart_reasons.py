"""Why these scales? What stands beside a chart: its keys, and each chord with its reasons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from halfstep.app.web.chart_bars import chord_anchor
from halfstep.harmony.changes import Change, Motion
from halfstep.harmony.scale_choice import ScaleChoice
from halfstep.part.places import Placed, placed_chords
from halfstep.part.transposed_part import Part
from halfstep.pitch import Name
from halfstep.progression.set_scales import SetScale, scale_place

YOUR_CHOICE = "your choice"


@dataclass(frozen=True, slots=True)
class OfferedScale:
    """Another scale that a chord allows: its name, its kind, its notes and what they do."""

    name: str
    kind: str
    notes: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplainedChord:
    """A chord with its reasons, in the player's pitch.

    Attributes
    ----------
    anchor : str
        The name of its place on the page.
    symbol, place, numeral, role, tones : str
    scale, notes, reason : str
        Empty in silence.
    is_chosen : bool
        The teacher has set the scale.
    is_taken_back : bool
        Setting it can be taken back; what the text sets is changed there.
    set_at : str
        The place that a scale is set at.
    others : tuple of OfferedScale
    like, like_place : str
        The anchor and the place of a chord of which all but what follows has been said.
    following, instruction, stays, guides : str
        The next chord, what to do about it, the notes that stay, how the guide tones go; empty
        beside silence.
    """

    anchor: str
    symbol: str
    place: str
    numeral: str = ""
    role: str = ""
    tones: str = ""
    scale: str = ""
    notes: str = ""
    reason: str = ""
    is_chosen: bool = False
    is_taken_back: bool = False
    set_at: str = ""
    others: tuple[OfferedScale, ...] = ()
    like: str = ""
    like_place: str = ""
    following: str = ""
    instruction: str = ""
    stays: str = ""
    guides: str = ""


@dataclass(frozen=True, slots=True)
class KeyArea:
    """Neighbouring chords in one key: the key, where, and the chords.

    What is the same as a chord said before is left out.
    """

    key: str
    bars: str
    chords: tuple[ExplainedChord, ...]


def key_areas(
    part: Part, changes: Sequence[Change | None], scales: tuple[SetScale, ...]
) -> tuple[KeyArea, ...]:
    """The chart cut where the key changes, each chord explained where it is first met.

    Parameters
    ----------
    part : Part
    changes : sequence of Change or None
        What changes into each chord of the part.
    scales : tuple of SetScale
        Those that were set beside the text.
    """
    places = placed_chords(part.analysis)
    taken_back = {one.place for one in scales}
    met = _Met()
    return tuple(
        KeyArea(
            str(part.local_keys[region.first]),
            _bars(places[region.first], places[region.last]),
            tuple(
                chord
                for index in range(region.first, region.last + 1)
                for chord in met.new(_explained(part, changes, index, places[index], taken_back))
            ),
        )
        for region in part.analysis.regions
    )


class _Met:
    """What has been said of chords so far."""

    def __init__(self) -> None:
        self._places: dict[str, set[object]] = {}
        self._reasons: dict[object, ExplainedChord] = {}

    def new(self, chord: ExplainedChord) -> Iterator[ExplainedChord]:
        """What is new of a chord; nothing where the same was said of its place on the page."""
        reasons = (chord.symbol, chord.numeral, chord.role, chord.scale, chord.reason)
        said, what = self._places.setdefault(chord.set_at, set()), (*reasons, chord.instruction)
        if what in said:
            return
        said.add(what)
        if len(said) > 1:
            chord = replace(chord, anchor=f"{chord.anchor}-{len(said)}")
        first = self._reasons.setdefault(reasons, chord)
        is_said = first is not chord and bool(chord.scale)
        yield replace(chord, like=first.anchor, like_place=first.place) if is_said else chord


def _bars(first: Placed, last: Placed) -> str:
    begin, end = first.number, last.number
    return f"bar {begin}" if begin == end else f"bars {begin} to {end}"


def _explained(
    part: Part, changes: Sequence[Change | None], index: int, place: Placed, taken_back: set[str]
) -> ExplainedChord:
    analysed = part.analysis.chords[index]
    symbol = str(part.symbol(index))
    set_at = scale_place(place.bar.written, analysed.span.at)
    anchor = chord_anchor(set_at)
    if analysed.silent:
        return ExplainedChord(anchor=anchor, symbol=symbol, place=f"bar {place}", set_at=set_at)
    scale = part.scale(index)
    first, *others = analysed.choices
    is_chosen = bool(analysed.span.scale)
    following = (index + 1) % len(part.analysis.chords)
    change = changes[following] if following != index else None
    return ExplainedChord(
        anchor=anchor,
        symbol=symbol,
        place=f"bar {place}",
        numeral=analysed.numeral,
        role=part.role_in_words(index),
        tones=_row(part.names(index)),
        scale=str(scale),
        notes=_row(scale.names),
        reason=YOUR_CHOICE if is_chosen else part.in_words(first.reason, index),
        is_chosen=is_chosen,
        is_taken_back=set_at in taken_back,
        set_at=set_at,
        others=tuple(_offered(part, index, other) for other in others),
        following=_following(part, following) if change else "",
        instruction=change.instruction if change else "",
        stays=_row((*change.stays, *(m.new for m in change.renamed))) if change else "",
        guides=", ".join(map(_motion, part.guide_tones(following))) if change else "",
    )


def _offered(part: Part, index: int, choice: ScaleChoice) -> OfferedScale:
    scale = choice.scale.moved(part.interval_at(index)).readable
    reason = part.in_words(choice.reason, index)
    return OfferedScale(str(scale), choice.scale.mode.label, _row(scale.names), reason)


def _following(part: Part, index: int) -> str:
    return f"{part.symbol(index)}{'' if index else ' (from the top)'}"


def _row(names: tuple[Name, ...]) -> str:
    return " ".join(map(str, names))


def _motion(motion: Motion) -> str:
    if motion.old == motion.new:
        return f"{motion.old} stays"
    return f"{motion.old} → {motion.new}" if motion.semitones else f"{motion.old} = {motion.new}"


def whole_in_words(part: Part) -> Iterator[str]:
    """What holds for the whole of a chart: its turnaround, and the layer of a blues."""
    if part.analysis.each_in_its_mode:
        yield "No key of the whole: each chord has a mode of its own"
    turnaround = part.analysis.turnaround
    if turnaround:
        names = " ".join(
            str(part.symbol(index)) for index in range(turnaround.first, turnaround.last + 1)
        )
        yield f"Turnaround: {names} lead back to the top"
    scales = [f"{scale}, {_row(scale.names)}" for scale in part.blues_scales()]
    if scales:
        yield f"Over all of it, as a colour beside the chord tones: {'; '.join(scales)}"
