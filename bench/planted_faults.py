"""What is done wrong in planted takes, or done with craft: one function for each kind."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

from planted_takes import CHARTS, Planted, Playing, Tone

from halfstep.feedback.findings import FindingKind
from halfstep.feedback.phrasing import LONGEST_S
from halfstep.harmony.analysis import AnalysedChord
from halfstep.harmony.chart_sounds import ChangeSounds, ChartSounds
from halfstep.harmony.note_likelihoods import ChordFamily, chord_family, log_shares, weight_at
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level

Plant = Callable[[Playing, Random], Playing | None]
"""Does something wrong; None where the line gives no chance to."""

HALF = Fraction(1, 2)
APART = 4
"""Quarter notes between two things that are planted."""


# --- against a written line --------------------------------------------------------------


def _inner(play: Playing, rng: Random) -> int | None:
    """A note whose neighbours have other pitches, away from what was planted already."""
    tones = play.tones
    places = [
        place
        for place in range(2, len(tones) - 2)
        if tones[place].midi not in {tones[place - 1].midi, tones[place + 1].midi}
        and _is_free(play, float(tones[place].place))
    ]
    return rng.choice(places) if places else None


def _is_free(play: Playing, at: float) -> bool:
    """True away from what was planted already, and before the player is in another bar.

    What is played from there on is meant for other chords than sound.
    """
    is_apart = all(mark.at is None or abs(at - mark.at) > APART for mark in play.planted)
    return is_apart and all(at < play.tones[entry].place for entry in play.entries)


def _with(play: Playing, place: int, *tones: Tone) -> tuple[Tone, ...]:
    return (*play.tones[:place], *tones, *play.tones[place + 1 :])


def missed(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    mark = Planted("missed", float(play.tones[place].place))
    return play.and_planted(mark, tones=_with(play, place))


def changed(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    tone = play.tones[place]
    around = {play.tones[place - 1].midi, play.tones[place + 1].midi}
    midi = rng.choice([tone.midi + n for n in (-2, -1, 1, 2) if tone.midi + n not in around])
    mark = Planted("changed", float(tone.place))
    return play.and_planted(mark, tones=_with(play, place, replace(tone, midi=midi)))


def added(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    tone, after = play.tones[place], play.tones[place + 1]
    gap = float(after.place - tone.place)
    if gap * play.session.quarter_s < 0.24:
        return None
    middle = tone.place + (after.place - tone.place) / 2
    away = {(tone.midi) % 12, after.midi % 12}
    midi = next(tone.midi + n for n in (3, 4, -3, -4, 5) if (tone.midi + n) % 12 not in away)
    tones = _with(play, place, replace(tone, beats=gap / 2), Tone(middle, gap / 2, midi))
    return play.and_planted(Planted("added", float(middle)), tones=tones)


def late_note(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    tone = play.tones[place]
    gap = float(play.tones[place + 1].place - tone.place) * play.session.quarter_s
    if gap < 0.22:
        return None
    late_s = max(0.1, 0.15 * play.session.quarter_s)
    tones = _with(play, place, replace(tone, late_s=late_s))
    return play.and_planted(Planted("late-note", float(tone.place)), tones=tones)


def several(play: Playing, rng: Random) -> Playing:
    """One note in eight left out, changed or added, one kind as often as another."""
    for kind in [missed, changed, added] * max(1, len(play.tones) // 24):
        for _ in range(4):
            wrong = kind(play, rng)
            if wrong is not None:
                play = wrong
                break
    return play


def octave(play: Playing, rng: Random) -> Playing | None:
    return _moved(play, rng.sample([-12, 12], 2), "octave")


def transposition(play: Playing, rng: Random) -> Playing | None:
    return _moved(play, rng.sample([-2, 2, 3, -3, 5], 5), "transposition")


def _moved(play: Playing, rises: Sequence[int], kind: str) -> Playing | None:
    """All of it some semitones off, as far as the instrument goes."""
    low, high = compass(play)
    midis = [tone.midi for tone in play.tones]
    fits = [rise for rise in rises if low <= min(midis) + rise and max(midis) + rise <= high]
    if not fits:
        return None
    tones = tuple(replace(tone, midi=tone.midi + fits[0]) for tone in play.tones)
    return play.and_planted(Planted(kind, fault=kind != "octave"), tones=tones)


def compass(play: Playing) -> tuple[int, int]:
    """How low and how high the instrument goes, concert."""
    player = INSTRUMENTS[play.session.instrument]
    limits = player.compass(Level.ADVANCED)
    return player.concert(limits.low).midi, player.concert(limits.high).midi


# --- the form ----------------------------------------------------------------------------


def form_slip(play: Playing, rng: Random) -> Playing | None:
    """From some bar on the player is early or late by bars."""
    return _slipped(play, rng, rng.choice([-1, 1, 2]), "form-slip")


def repeat(play: Playing, rng: Random) -> Playing | None:
    """Two bars are played again, and it goes on from there."""
    starts, (first, last) = _bar_starts(play), (4, -6)
    at = rng.choice(starts[first:last])
    back = starts[starts.index(at) - 2]
    again = (tone for tone in play.tones if tone.place >= back)
    moved = [replace(tone, place=tone.place + at - back) for tone in again]
    return _jumped(play, at, moved, "repeat")


def skip(play: Playing, rng: Random) -> Playing | None:
    """Two bars are left out, and it goes on without a break."""
    starts = _bar_starts(play)
    at = rng.choice(starts[2:-8])
    on = starts[starts.index(at) + 2]
    rest = (tone for tone in play.tones if tone.place >= on)
    return _jumped(play, at, [replace(tone, place=tone.place + at - on) for tone in rest], "skip")


def fresh_start(play: Playing, rng: Random) -> Playing | None:
    """The player breaks off, waits for a bar line and begins again at bar 1."""
    starts = _bar_starts(play)
    at = rng.choice(starts[2:6])
    wait = starts[starts.index(at) + 1]
    moved = [replace(tone, place=tone.place + wait) for tone in play.tones]
    return _jumped(play, at, moved, "fresh start")


def _slipped(play: Playing, rng: Random, bars: int, label: str) -> Playing | None:
    starts = _bar_starts(play)
    at = rng.choice(starts[3 : len(starts) // 2])
    late = bars * play.session.analysis.chart.meter.bar_beats
    rest = (tone for tone in play.tones if tone.place >= at)
    moved = [replace(tone, place=tone.place + late) for tone in rest]
    return _jumped(play, at + min(late, Fraction(0)), moved, label)


def _bar_starts(play: Playing) -> list[Fraction]:
    form = Fraction(play.session.analysis.chart.beats)
    starts = [Fraction(start) for start in play.session.form.bar_starts]
    return [turn * form + start for turn in range(play.session.passes) for start in starts]


def _jumped(play: Playing, at: Fraction, moved: Sequence[Tone], label: str) -> Playing | None:
    """The tones before a place, and then others, as long as the backing lasts."""
    end = play.session.passes * Fraction(play.session.analysis.chart.beats)
    kept = [tone for tone in play.tones if tone.place < at]
    rest = [tone for tone in moved if tone.place < end]
    if len(rest) < 12 or not kept:
        return None
    mark = Planted("form-slip", float(rest[0].place), within=8.5, label=label)
    return play.and_planted(mark, tones=(*kept, *rest), entries=(len(kept),))


# --- time --------------------------------------------------------------------------------


def offset(play: Playing, rng: Random) -> Playing:
    late_s = rng.choice([-0.08, 0.08, 0.12])
    tones = tuple(replace(tone, late_s=tone.late_s + late_s) for tone in play.tones)
    return play.and_planted(Planted("offset"), tones=tones)


def uneven(play: Playing, _: Random) -> Playing | None:
    """Notes lie twice as far from their places as with good players, in no great haste."""
    is_planted = any(mark.kind == "uneven" for mark in play.planted)
    if is_planted or play.session.quarter_s < 60 / 140:
        return None
    return play.and_planted(Planted("uneven"), spread_s=0.065)


def rushing(play: Playing, _: Random) -> Playing:
    return play.and_planted(Planted("rushing"), faster=0.025)


def dragging(play: Playing, _: Random) -> Playing:
    return play.and_planted(Planted("dragging"), faster=-0.025)


def _pairs(play: Playing) -> int:
    """Eighths that stand between two notes on beats: no others say how a beat is divided."""
    places = {tone.place for tone in play.tones}
    halves = (place for place in places if place.denominator == 2)
    return sum({place - HALF, place + HALF} <= places for place in halves)


def straight(play: Playing, _: Random) -> Playing | None:
    if not play.session.swings or _pairs(play) < 20 or play.session.quarter_s < 60 / 150:
        return None
    return play.and_planted(Planted("straight"), half=0.5, lag=0.0)


def swung(play: Playing, _: Random) -> Playing | None:
    if play.session.swings or _pairs(play) < 20:
        return None
    return play.and_planted(Planted("swung"), half=0.66)


def sharp(play: Playing, rng: Random) -> Playing | None:
    return _out_of_tune(play, rng, 30.0, "sharp")


def flat(play: Playing, rng: Random) -> Playing | None:
    return _out_of_tune(play, rng, -30.0, "flat")


def _out_of_tune(play: Playing, rng: Random, cents: float, kind: str) -> Playing | None:
    counts = [tone.midi for tone in play.tones if tone.beats * play.session.quarter_s > 0.2]
    often = sorted({midi for midi in counts if counts.count(midi) >= 4})
    if not often:
        return None
    midi = rng.choice(often)
    tones = tuple(replace(t, cents=cents) if t.midi == midi else t for t in play.tones)
    return play.and_planted(Planted(kind), tones=tones)


# --- changes -----------------------------------------------------------------------------


def _chord(play: Playing, number: int) -> AnalysedChord:
    return play.session.analysis.chords[number]


def _changes(play: Playing) -> Iterator[tuple[int, ChangeSounds]]:
    """Chords of a bar or more that differ from the one before, and how."""
    sounds = ChartSounds(play.session.analysis)
    for number in range(1, len(play.session.analysis.chords)):
        change = sounds.change(number - 1, number)
        is_long = _chord(play, number).span.beats >= 4
        if is_long and change is not None and change.telling and _staying(change):
            yield number, change


def _staying(change: ChangeSounds) -> set[int]:
    """Notes of the old chord that are no colour of the new one."""
    return {note for note in change.leaving if change.stays(note, change.new.tones | {note})}


def _over(play: Playing, number: int) -> list[int]:
    """The tones that are played over a chord in the first pass."""
    span = _chord(play, number).span
    return [n for n, tone in enumerate(play.tones) if span.start <= tone.place < span.end]


def _in_scale(midi: int, classes: Iterable[int], avoid: Iterable[int] = ()) -> int:
    """The nearest pitch of some classes, but for those of other pitches where that leaves any."""
    every = set(classes)
    good = every - {pitch % 12 for pitch in avoid} or every
    near = (midi + sign * n for n in range(7) for sign in (-1, 1))
    return next(pitch for pitch in near if pitch % 12 in good)


def change_missed(play: Playing, rng: Random) -> Playing | None:
    """All over one chord is played from the scale of the one before, with no tone of its own."""
    chords = play.session.analysis.chords
    for number, change in _shuffled(_changes(play), rng):
        following = chords[(number + 1) % len(chords)].span
        is_free = _is_free(play, float(_chord(play, number).span.start))
        if following.symbol == _chord(play, number).span.symbol or not is_free:
            continue
        planted = _old_for(play, number, change, _chord(play, number).span.beats)
        if planted is not None:
            at = float(_chord(play, number).span.start)
            return planted.and_planted(Planted("change-missed", at))
    return None


LATE_BEATS = (Fraction(3, 2), Fraction(2), Fraction(5, 2), Fraction(3))


def change_late(play: Playing, rng: Random) -> Playing | None:
    """The first beats over a chord are played from the scale of the one before."""
    for number, change in _shuffled(_changes(play), rng):
        start = _chord(play, number).span.start
        for beats in rng.sample(LATE_BEATS, len(LATE_BEATS)):
            planted = _old_for(play, number, change, beats)
            if planted is not None and any(
                planted.tones[n].place >= start + beats and _tells(planted, n, change)
                for n in _over(planted, number)
            ):
                mark = Planted("change-heard", float(start), label="change late", sign=1)
                return planted.and_planted(mark)
    return None


def _shuffled(
    changes: Iterable[tuple[int, ChangeSounds]], rng: Random
) -> list[tuple[int, ChangeSounds]]:
    every = list(changes)
    return rng.sample(every, len(every))


def _old_for(play: Playing, number: int, change: ChangeSounds, beats: Fraction) -> Playing | None:
    """The old scale for so many beats of a new chord; None where that makes no fault.

    The first note that has weight, on a beat, becomes one of the old chord alone. A fault it is
    where no note tells the new chord before, not half a beat ahead of it either, where the old
    note does not resolve within a beat, and where the two-sided test fails.
    """
    start = _chord(play, number).span.start
    old = set(_chord(play, number - 1).scale.pitch_classes) - change.telling - change.new_tones
    tones, stayed = list(play.tones), None
    for place in _over(play, number):
        tone = tones[place]
        if tone.place >= start + beats:
            continue
        has_weight = tone.place.denominator == 1 and tone.beats >= 0.5
        is_first = stayed is None and has_weight
        midi = _in_scale(tone.midi, _staying(change) if is_first else old)
        stayed = place if is_first else stayed
        tones[place] = replace(tone, midi=midi)
    planted = replace(play, tones=tuple(tones))
    if stayed is None or _leads(planted, stayed) or _is_anticipated(planted, number, change):
        return None
    return None if _holds(planted, number) is not False else planted


def _is_anticipated(play: Playing, number: int, change: ChangeSounds) -> bool:
    """True where a note in the half beat before a chord tells it."""
    start = _chord(play, number).span.start
    before = (tone for tone in play.tones if start - HALF <= tone.place < start)
    return any(tone.midi % 12 in change.telling for tone in before)


def _tells(play: Playing, place: int, change: ChangeSounds) -> bool:
    """True for a note of the new chord alone that leads nowhere."""
    return play.tones[place].midi % 12 in change.telling and not _leads(play, place)


def _leads(play: Playing, place: int) -> bool:
    """True for a note a half step from the next, which comes within a beat, or the one after."""
    tone, after = play.tones[place], play.tones[place + 1 : place + 3]
    near = (other for other in after if other.place - tone.place <= 1)
    return any(abs(other.midi - tone.midi) == 1 for other in near)


SIDE_BEATS, SIDE_NOTES = 4, 3


def _holds(play: Playing, number: int) -> bool | None:
    """The two-sided test at a chord, counted afresh; None where a side has too few notes.

    The last four beats of the old chord must be likelier over it, the first four of the new one
    over that, by the shares of the twelve notes that were counted on solos.
    """
    old, new = (_chord(play, n).span for n in (number - 1, number))
    start = new.start
    before = _between(play, max(old.start, start - SIDE_BEATS), start)
    after = _between(play, start, min(new.end, start + SIDE_BEATS))
    if min(len(before), len(after)) < SIDE_NOTES:
        return None
    rows = [
        log_shares(chord_family(s.symbol) or _ANY, s.symbol.root.pitch_class) for s in (old, new)
    ]
    leads = [
        sum(rows[1][key] - rows[0][key] for key in (_key(play, tone) for tone in side))
        for side in (before, after)
    ]
    return leads[0] < 0 < leads[1]


_ANY = ChordFamily.DOMINANT


def _between(play: Playing, start: Fraction, end: Fraction) -> list[Tone]:
    return [tone for tone in play.tones if start <= tone.place < end]


def _key(play: Playing, tone: Tone) -> int:
    """Where the share of a note stands among those of its chord."""
    meter = play.session.analysis.chart.meter
    return 12 * weight_at(meter, float(tone.place % meter.bar_beats)) + tone.midi % 12


def change_early(play: Playing, rng: Random) -> Playing | None:
    """From two beats before a chord on its notes are played; the old chord was heard before."""
    offers = []
    for number, change in _changes(play):
        start = _chord(play, number).span.start
        before = [n for n in _over(play, number - 1) if start - 2 <= play.tones[n].place < start]
        is_long = _chord(play, number - 1).span.beats >= SIDE_BEATS
        if is_long and len(before) >= 3 and play.tones[before[0]].place <= start - HALF * 3:
            offers.append((number, change, before))
    for number, change, before in rng.sample(offers, len(offers)):
        planted = _early(play, change, before)
        if _tells(planted, before[0], change):
            at = float(_chord(play, number).span.start)
            return planted.and_planted(Planted("change-heard", at, label="change early", sign=-1))
    return None


def _early(play: Playing, change: ChangeSounds, before: Sequence[int]) -> Playing:
    """Notes before a chord from its own; the first of them tells it."""
    tones, new = list(play.tones), change.new.tones
    for n in before:
        avoid = [tones[n - 1].midi] if n else []
        classes = change.telling & new or change.telling if n == before[0] else new
        tones[n] = replace(
            tones[n], midi=_in_scale(tones[n].midi, classes, avoid[: n != before[0]])
        )
    return replace(play, tones=tuple(tones))


def old_note_kept(play: Playing, rng: Random) -> Playing | None:
    """One long note over a chord is the old chord's, where its letter has changed.

    It is no colour of the new chord, no blue note, and does not resolve within a beat.
    """
    offers = []
    sounds = ChartSounds(play.session.analysis)
    for number in dict(_changes(play)):
        change, heard = (
            play.session.analysis.changing_into(number),
            sounds.change(number - 1, number),
        )
        if change is None or heard is None:
            continue
        moved = {motion.new.pitch_class: motion for motion in change.half_steps}
        offers += [
            (place, motion.semitones)
            for place in _over(play, number)
            if (motion := moved.get(play.tones[place].midi % 12)) is not None
            and motion.old.pitch_class in _staying(heard)
            and play.tones[place].beats >= 0.9
            and _is_free(play, float(play.tones[place].place))
        ]
    for place, rise in rng.sample(offers, len(offers)):
        tone = play.tones[place]
        tones = _with(play, place, replace(tone, midi=tone.midi - rise))
        planted = replace(play, tones=tones)
        if not _leads(planted, place):
            return planted.and_planted(Planted("old-note-kept", float(tone.place)))
    return None


def restart(play: Playing, _: Random) -> Playing:
    """Each chord is begun again from its root, after a rest."""
    low, high = compass(play)
    tones, form = play.tones, Fraction(play.session.analysis.chart.beats)
    for turn in range(play.session.passes):
        for chord in play.session.analysis.chords:
            at = turn * form + chord.span.start
            tones = _with_root(tones, at, chord.span.symbol.root.pitch_class, low, high)
    return play.and_planted(Planted("restart"), tones=tones)


def _with_root(
    tones: tuple[Tone, ...], at: Fraction, root: int, low: int, high: int
) -> tuple[Tone, ...]:
    before = [_cut(tone, at - 1) for tone in tones if tone.place <= at - 1]
    after = [tone for tone in tones if tone.place >= at + HALF]
    middle = before[-1].midi if before else (low + high) // 2
    midi = _in_scale(middle, [root])
    midi += 12 if midi < low else -12 if midi > high else 0
    beats = min(1.0, float(after[0].place - at)) if after else 1.0
    return (*before, Tone(at, beats, midi), *after)


def _cut(tone: Tone, end: Fraction) -> Tone:
    return replace(tone, beats=max(0.25, min(tone.beats, float(end - tone.place) + 0.25)))


# --- craft -------------------------------------------------------------------------------


def _goals(play: Playing, before: int) -> Iterator[tuple[int, AnalysedChord]]:
    """Chord tones on a beat with so many eighths before them, over the same chord."""
    for number in range(len(play.session.analysis.chords)):
        chord, places = _chord(play, number), _over(play, number)
        tones = {tone.name.pitch_class for tone in chord.tones}
        for place in places:
            steps = range(1, before + 1)
            if place < before + 1 or play.tones[place].place.denominator != 1:
                continue
            goal = play.tones[place]
            eighths = all(play.tones[place - n].place == goal.place - n * HALF for n in steps)
            if eighths and goal.midi % 12 in tones and place - before in places:
                yield place, chord


def approach(play: Playing, rng: Random) -> Playing | None:
    """A half step from below, from outside the scale, into a chord tone on a beat."""
    offers = [
        place
        for place, chord in _goals(play, 1)
        if (midi := play.tones[place].midi - 1) % 12 not in chord.scale.pitch_classes
        and midi % 12 not in {tone.name.pitch_class for tone in chord.tones}
        and abs(play.tones[place - 2].midi - play.tones[place].midi) > 2
        and _is_free(play, float(play.tones[place].place))
    ]
    if not offers:
        return None
    place = rng.choice(offers)
    leading = replace(play.tones[place - 1], midi=play.tones[place].midi - 1)
    mark = Planted("approach", float(leading.place), fault=False)
    return play.and_planted(mark, tones=_with(play, place - 1, leading))


def enclosure(play: Playing, rng: Random) -> Playing | None:
    """A scale step from above and a half step from below into a chord tone on a beat."""
    offers = [
        (place, next(n for n in (1, 2, 3) if (play.tones[place].midi + n) % 12 in scale))
        for place, chord in _goals(play, 2)
        if (scale := chord.scale.pitch_classes)
        and (play.tones[place].midi - 1) % 12 not in scale
        and any((play.tones[place].midi + n) % 12 in scale for n in (1, 2))
    ]
    if not offers:
        return None
    place, above = rng.choice(offers)
    goal = play.tones[place].midi
    tones = list(play.tones)
    tones[place - 2] = replace(tones[place - 2], midi=goal + above)
    tones[place - 1] = replace(tones[place - 1], midi=goal - 1)
    mark = Planted("enclosure", float(tones[place - 2].place), fault=False)
    return play.and_planted(mark, tones=tuple(tones))


def anticipation(play: Playing, rng: Random) -> Playing | None:
    """The note that tells a new chord comes half a beat before it."""
    offers = []
    for number, change in _changes(play):
        start = _chord(play, number).span.start
        places = [n for n in _over(play, number) if play.tones[n].place == start]
        if places and places[0] and play.tones[places[0]].beats >= 0.5:
            offers.append((places[0], change))
    if not offers:
        return None
    place, change = rng.choice(offers)
    tone, tones = play.tones[place], play.tones
    early = replace(
        tone,
        place=tone.place - HALF,
        beats=tone.beats + 0.5,
        midi=_in_scale(tone.midi, change.telling & change.new.tones or change.telling),
    )
    before = [t for t in tones[:place] if t.place < early.place]
    mark = Planted("anticipation", float(early.place), fault=False)
    return play.and_planted(mark, tones=(*before, early, *tones[place + 1 :]))


def blue_note(play: Playing, rng: Random) -> Playing | None:
    """A blue note over a chord that has none of it, held for two beats."""
    blue = ChartSounds(play.session.analysis).blue
    offers = []
    for number in range(len(play.session.analysis.chords)):
        chord = _chord(play, number)
        inside = chord.scale.pitch_classes | {tone.name.pitch_class for tone in chord.tones}
        old = _chord(play, number - 1).scale.pitch_classes if number else frozenset()
        offers += [
            (place, blue - inside - old)
            for place in _over(play, number)
            if play.tones[place].place.denominator == 1
            and blue - inside - old
            and play.tones[place].place + 2 <= chord.span.end
        ]
    if not offers:
        return None
    place, classes = rng.choice(offers)
    tone = play.tones[place]
    held = replace(tone, beats=2.0, midi=_in_scale(tone.midi, classes))
    after = [t for t in play.tones[place + 1 :] if t.place >= tone.place + 2]
    mark = Planted("blue-note", float(tone.place), fault=False)
    return play.and_planted(mark, tones=(*play.tones[:place], held, *after))


# --- phrases -----------------------------------------------------------------------------


def _level(play: Playing) -> Level:
    return Level(play.session.reply.etude.brief.level)


def _legato(tones: Sequence[Tone]) -> tuple[Tone, ...]:
    """Each note held until the next; where that is long, the note before goes on in eighths."""
    filled: list[Tone] = []
    for n, tone in enumerate(tones):
        gap = tones[n + 1].place - tone.place if n + 1 < len(tones) else Fraction(1)
        filled.append(replace(tone, beats=float(gap)))
    return tuple(filled)


def no_rest(play: Playing, _: Random) -> Playing:
    return play.and_planted(Planted("no-rest"), tones=_legato(play.tones))


def long_phrase(play: Playing, rng: Random) -> Playing | None:
    """For half as long again as a breath lasts nothing is left out; before and after it is."""
    beats = 1.5 * LONGEST_S[_level(play)] / play.session.quarter_s
    end = float(play.tones[-1].place)
    if beats > end - 8:
        return None
    at = Fraction(rng.randrange(4, max(5, int(end - beats - 3))))
    inside = [t for t in play.tones if at <= t.place < at + beats]
    before = [_cut(t, at - 1) for t in play.tones if t.place < at - 1]
    after = [t for t in play.tones if t.place >= at + beats + 1]
    mark = Planted("long-phrase", float(inside[0].place), within=4.1) if inside else None
    if mark is None or len(inside) < 8:
        return None
    return play.and_planted(mark, tones=(*before, *_legato(inside), *after))


def few_rhythms(play: Playing, _: Random) -> Playing:
    """Nothing but eighths, with a rest of a beat every four bars."""
    tones, steps = [], int(play.tones[-1].place) * 2
    midi, last = play.tones[0].midi, -1
    for step in range(steps):
        place = step * HALF
        if place % 16 >= 15:
            continue
        chord = play.session.analysis.chords[play.session.form.chord_at(float(place))]
        near = min(play.tones, key=lambda tone: abs(tone.place - place))
        midi = _in_scale(near.midi, chord.scale.pitch_classes, [last] if last > 0 else [])
        tones.append(Tone(place, 0.5, midi))
        last = midi
    return play.and_planted(Planted("few-rhythms"), tones=tuple(tones))


def narrow_range(play: Playing, _: Random) -> Playing:
    """All of it within a fourth."""
    low = sorted(tone.midi for tone in play.tones)[len(play.tones) // 2] - 2
    tones = []
    for tone in play.tones:
        chord = play.session.analysis.chords[play.session.form.chord_at(float(tone.place))]
        inside = [m for m in range(low, low + 6) if m % 12 in chord.scale.pitch_classes]
        midi = min(inside, key=lambda m: (abs(m - tone.midi) % 12, m))
        tones.append(replace(tone, midi=midi))
    return play.and_planted(Planted("narrow-range"), tones=tuple(tones))


FIGURE = (0, 7, 2, 7)
"""Root, fifth, ninth, fifth, in semitones: over any chord but one with a changed fifth."""


def repeated_figure(play: Playing, _: Random) -> Playing:
    """One figure of four eighths in each bar, and two quarters."""
    low, high = compass(play)
    tones: list[Tone] = []
    for start in _bar_starts(play):
        chord = play.session.analysis.chords[play.session.form.chord_at(float(start))]
        root = _in_scale((low + high) // 2 - 4, [chord.span.symbol.root.pitch_class])
        tones += [Tone(start + n * HALF, 0.5, root + rise) for n, rise in enumerate(FIGURE)]
    return play.and_planted(Planted("repeated-figure"), tones=tuple(tones))


# --- what cannot be judged ---------------------------------------------------------------


def clipped(play: Playing, _: Random) -> Playing:
    return play.and_planted(_unjudged("clipped"), gain=30.0)


def loud_backing(play: Playing, _: Random) -> Playing:
    return play.and_planted(_unjudged("loud backing"), backing_db=9.0)


def two_voices(play: Playing, _: Random) -> Playing:
    low, high = compass(play)
    rise = 4 if max(tone.midi for tone in play.tones) + 4 <= high else -4
    second = tuple(replace(tone, midi=max(low, tone.midi + rise)) for tone in play.tones)
    return play.and_planted(_unjudged("two voices"), second=second)


def wrong_speed(play: Playing, rng: Random) -> Playing:
    """A file that runs at another rate than it says."""
    rate = rng.choice([44_100 / 48_000, 48_000 / 44_100])
    return play.and_planted(_unjudged("wrong speed"), rate=rate)


def wrong_chart(play: Playing, rng: Random) -> Playing:
    """Held against other chords than were played over."""
    others = [chart for chart in CHARTS if chart != play.session.chart]
    return play.and_planted(_unjudged("wrong chart"), chart=rng.choice(others))


def _unjudged(label: str) -> Planted:
    return Planted(FindingKind.NOT_JUDGED.value, label=label, fault=False)


BY_LINE: dict[str, Plant] = {
    "missed": missed, "added": added, "changed": changed, "late-note": late_note,
    "octave": octave, "transposition": transposition, "form-slip": form_slip,
    "repeat": repeat, "skip": skip, "fresh start": fresh_start,
    "offset": offset, "uneven": uneven, "rushing": rushing, "dragging": dragging,
    "straight": straight, "swung": swung, "sharp": sharp, "flat": flat,
    "clipped": clipped, "two voices": two_voices, "loud backing": loud_backing,
    "wrong speed": wrong_speed,
}  # fmt: skip
"""What is planted into takes that are held against their written line."""
IMPROVISED: dict[str, Plant] = {
    "change late": change_late, "change early": change_early, "change-missed": change_missed,
    "old-note-kept": old_note_kept, "restart": restart, "approach": approach,
    "enclosure": enclosure, "anticipation": anticipation, "blue-note": blue_note,
    "long-phrase": long_phrase, "no-rest": no_rest, "few-rhythms": few_rhythms,
    "narrow-range": narrow_range, "repeated-figure": repeated_figure,
    "wrong chart": wrong_chart, "slip improvised": form_slip,
}  # fmt: skip
"""What is planted into takes that are held against no line."""
SECOND = {
    True: (missed, changed, late_note, uneven),
    False: (change_missed, old_note_kept, approach),
}
"""What is done wrong besides, by whether there is a line."""
ALONE = {"clipped", "two voices", "loud backing", "wrong speed", "wrong chart", "restart"}
"""What is planted alone: what stands beside it cannot be judged either."""
WITH_BACKING = {"offset", "wrong speed", "loud backing"}
"""What needs a backing that is heard."""
