"""Is what is told of a planted take true? Each finding is held against what was played.

What was planted is true. What is told of changes, old notes and craft, and of phrases, is true
where the same is told of the very notes that were played, on their very places: the ear and
the clock are measured there, and the plants measure the rules. A late note is true where the
note was late. What follows from a plant by itself (`_FOLLOWS`) is true as well; all else that
is told as a fault is false.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from planted_takes import Condition, Planted, Playing, Studio, place_s

from halfstep.errors import HalfstepError
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judge import Feedback, judge
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote
from halfstep.services.give_feedback import FeedbackReply, GiveFeedback, give_feedback

NEAR_S = 0.05
HEARD_S = 0.08
"""How near a heard note and a played one, and a finding and its truth, must lie."""
LATE_S = 0.04
"""A note that is so much later than its neighbours was late."""
SAME_BEATS = 0.6
_LEVEL_LINE = frozenset({"missed", "added", "changed"})
_CHORDAL = frozenset(
    {"change-heard", "change-missed", "old-note-kept", "restart"}
    | {"approach", "enclosure", "anticipation", "blue-note"}
)
_PHRASING = frozenset({"long-phrase", "no-rest", "few-rhythms", "narrow-range", "repeated-figure"})
_FOLLOWS = {
    "straight": {"offset"}, "dragging": {"offset"}, "rushing": {"offset"},
    "offset": {"late-note"},
}  # fmt: skip
_RIGHT_TEMPO = 0.005


@dataclass(frozen=True, slots=True)
class ToldFinding:
    """Something that was told: is it true?"""

    kind: str
    certainty: float
    is_fault: bool
    is_true: bool
    text: str


@dataclass(slots=True)
class Examined:
    """A take, and how well it was judged.

    ``notes`` counts hits, false ones and lost ones by kind; ``matched`` counts notes that were
    played, those of takes that are read by no line, and of the others those that were heard and
    those that are read as what they are; ``recoveries`` how many notes after a jump the place
    is right again.
    """

    name: str
    condition: str
    group: str
    error: str = ""
    marks: list[tuple[str, bool]] = field(default_factory=list)
    told: list[ToldFinding] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    choruses: int = 0
    changes: Counter[str] = field(default_factory=Counter)
    notes: Counter[tuple[str, str]] = field(default_factory=Counter)
    matched: Counter[str] = field(default_factory=Counter)
    recoveries: list[int] = field(default_factory=list)
    judging_s: float = 0.0


def examine(
    play: Playing, condition: Condition, studio: Studio, number: int, name: str, group: str
) -> Examined:
    """Record a take, have it judged, and hold what is told against what was played."""
    taken = Examined(name, condition.name, group, choruses=play.session.passes)
    try:
        reply = judged(play, condition, studio, number)
    except HalfstepError as error:
        taken.error = str(error)
        refusals = {"wrong chart", "two voices"}  # to be refused is as good
        taken.marks = [(mark.name, mark.name in refusals) for mark in play.planted]
        if play.with_line:
            taken.matched.update(played=len(play.tones), unread=len(play.tones))
        return taken
    _Examiner(play, condition, studio, number, reply, taken).examine()
    return taken


def judged(play: Playing, condition: Condition, studio: Studio, number: int) -> FeedbackReply:
    """A take recorded, heard and judged."""
    etude = None
    if play.with_line:
        etude = studio.folder / f"etude-{number}.json"
        etude.write_bytes(play.session.reply.file(".json").data)
    chart = play.chart or play.session.chart
    return give_feedback(
        GiveFeedback(
            studio.record(play, condition, number),
            chart=chart,
            backing=None if play.chart else studio.backing(chart),
            tempo_bpm=60 / play.session.quarter_s if play.chart else None,
            instrument=play.session.instrument,
            level=str(play.session.reply.etude.brief.level),
            etude=etude,
            headphones=condition.headphones,
            start_s=_said_start_s(play, condition, studio, number),
        )
    )


def _said_start_s(play: Playing, condition: Condition, studio: Studio, number: int) -> float | None:
    """Where bar 1 begins, to a tenth of a second: said where nothing in the take tells."""
    is_known = play.with_line or not condition.headphones
    return None if is_known else round(studio.start_s(play, number) / play.rate, 1)


@dataclass(frozen=True, slots=True)
class _Examiner:
    play: Playing
    condition: Condition
    studio: Studio
    number: int
    reply: FeedbackReply
    taken: Examined

    @property
    def take(self) -> JudgedTake:
        return self.reply.feedback.take

    def examine(self) -> None:
        truth = exact(self.play, self.take)
        findings = self.reply.feedback.findings
        used: dict[int, str] = {}
        for mark in self.play.planted:
            match = next(
                (n for n, f in enumerate(findings) if n not in used and self._is(f, mark)), None
            )
            found = match is not None or (mark.name == "wrong speed" and self._is_right_speed())
            self.taken.marks.append((mark.name, found))
            if match is not None:
                used[match] = mark.name
            if not found:
                self.taken.lost.append(f"{mark.name} at {mark.at}")
        for n, finding in enumerate(findings):
            is_true = n in used or self._is_true(finding, truth)
            self.taken.told.append(
                ToldFinding(
                    str(finding.kind), finding.certainty, finding.fault, is_true, shown(finding)
                )
            )
        self._count_changes(truth)
        if self.play.with_line:
            self._count_notes()
            self._count_matches()

    def _is(self, finding: Finding, mark: Planted) -> bool:
        """True for a finding of what was planted."""
        if finding.kind != mark.kind or finding.fault != mark.fault:
            return False
        late = finding.beats_late or 0.0
        if mark.sign and late * mark.sign <= 0:
            return False
        beats = self._beats(finding.time_s)
        return mark.at is None or abs(beats - mark.at) <= mark.within

    def _beats(self, time_s: float) -> float:
        """Where in what was played a time in the take lies."""
        start_s = self.studio.start_s(self.play, self.number)
        return (time_s * self.play.rate - start_s) / self.play.session.quarter_s

    def _is_right_speed(self) -> bool:
        """True where a recording that runs wrong is counted right, by its own seconds or true."""
        ratio = self.take.clock.quarter_s / self.play.session.quarter_s
        read = self.take.alignment
        share = len(read.matches) / max(1, len(read.onsets)) if read else 0.0
        speeds = (1.0, 1 / self.play.rate)
        return share > 0.9 and any(abs(ratio / speed - 1) < _RIGHT_TEMPO for speed in speeds)

    # True or not

    def _is_true(self, finding: Finding, truth: Feedback) -> bool:
        kind = str(finding.kind)
        if any(kind in _FOLLOWS.get(mark.kind, ()) for mark in self.play.planted):
            return True
        if kind == "late-note":
            return self._was_late(finding)
        if kind in _PHRASING:
            return any(other.kind == finding.kind for other in truth.findings)
        return kind in _CHORDAL and any(self._is_same(finding, other) for other in truth.findings)

    def _is_same(self, finding: Finding, other: Finding) -> bool:
        if (finding.kind, finding.fault) != (other.kind, other.fault):
            return False
        if finding.kind is FindingKind.RESTART:
            return True
        where, there = self._beats(finding.time_s), self.take.beats_at(other.time_s)
        lates = (finding.beats_late or 0.0) - (other.beats_late or 0.0)
        return abs(where - there) <= SAME_BEATS and abs(lates) <= SAME_BEATS

    def _was_late(self, finding: Finding) -> bool:
        onsets = self._onsets_s()
        nearest = min(range(len(onsets)), key=lambda n: abs(onsets[n] - finding.time_s))
        tone = self.play.tones[nearest]
        return onsets[nearest] - self._due_s(float(tone.place)) >= LATE_S

    def _due_s(self, beats: float) -> float:
        """When a place would be played by this player, were nothing late."""
        from fractions import Fraction

        last = max(float(tone.place) for tone in self.play.tones)
        place = Fraction(beats).limit_denominator(48)
        start_s = self.studio.start_s(self.play, self.number)
        return (start_s + place_s(self.play, place, last)) / self.play.rate

    def _onsets_s(self) -> list[float]:
        return [at / self.play.rate for at in self.studio.onsets_s(self.play, self.number)]

    # Changes

    def _count_changes(self, truth: Feedback) -> None:
        verdicts = {(change.onset, change.chord): change.verdict for change in truth.changes}
        for change in self.reply.feedback.changes:
            right = verdicts.get((change.onset, change.chord)) in {change.verdict, None}
            self.taken.changes["right" if right else "wrong"] += 1
            if not right:
                true = verdicts[change.onset, change.chord]
                self.taken.lost.append(
                    f"change at {change.onset}: {change.verdict} for {true} "
                    f"(certainty {change.certainty:.2f})"
                )

    # Notes against the line

    def _count_notes(self) -> None:
        """What is told of notes, at `NEAR_S` from the truth."""
        for kind in _LEVEL_LINE:
            truths = [
                self._due_s(mark.at)
                for mark in self.play.planted
                if mark.kind == kind and mark.at is not None
            ]
            times = [f.time_s for f in self.reply.feedback.findings if f.kind == kind]
            hits = _paired(times, truths)
            self.taken.notes[kind, "hit"] += hits
            self.taken.notes[kind, "false"] += len(times) - hits
            self.taken.notes[kind, "lost"] += len(truths) - hits

    def _count_matches(self) -> None:
        """Which played notes were heard, and read as the written note that they are, or as none.

        A note that was not heard cannot be read; one that was heard is read right or wrong.
        """
        alignment = self.take.alignment
        self.taken.matched["played"] += len(self.play.tones)
        if alignment is None or not self._is_read():
            self.taken.matched["unread"] += len(self.play.tones)
            return
        written = {match.heard: match.written for match in alignment.matches}
        heard = [self.take.time_s(note.sounded) for note in self.take.notes]
        places = _each_other(self._onsets_s(), heard)
        rights = [
            None if place is None else written.get(place) == tone.written
            for tone, place in zip(self.play.tones, places, strict=True)
        ]
        self.taken.matched["heard"] += sum(right is not None for right in rights)
        self.taken.matched["right"] += sum(right is True for right in rights)
        for entry in self.play.entries:
            self.taken.recoveries.append(_recovery(rights[entry:]))

    def _is_read(self) -> bool:
        """True where notes of the take are judged, and none of them is covered."""
        is_covered = any(doubt.covers for doubt in self.take.doubts)
        return self.reply.feedback.is_judged and not is_covered


def _recovery(rights: Sequence[bool | None]) -> int:
    """How many notes pass until four in a row that were heard are right."""
    heard = [right for right in rights if right is not None]
    for place in range(len(heard)):
        if all(heard[place : place + 4]):
            return place
    return len(heard)


def _each_other(times: Sequence[float], others: Sequence[float]) -> Iterator[int | None]:
    """For each time the one among others that is nearest to it and to no other time more."""
    for place, time_s in enumerate(times):
        near = _nearest(others, time_s)
        is_own = near is not None and _nearest(times, others[near]) == place
        yield near if is_own else None


def _nearest(times: Sequence[float], time_s: float) -> int | None:
    right = bisect_left(times, time_s)
    places = [place for place in (right - 1, right) if 0 <= place < len(times)]
    near = min(places, key=lambda place: abs(times[place] - time_s), default=None)
    return near if near is not None and abs(times[near] - time_s) <= HEARD_S else None


def _paired(times: Sequence[float], truths: Sequence[float]) -> int:
    """How many of some times have a truth of their own near them."""
    left, pairs = sorted(truths), 0
    for time_s in sorted(times):
        near = next((truth for truth in left if abs(truth - time_s) <= NEAR_S), None)
        if near is not None:
            left.remove(near)
            pairs += 1
    return pairs


def exact(play: Playing, take: JudgedTake) -> Feedback:
    """What is told of the very notes that were played, on their places."""
    notes = tuple(
        TakeNote(float(tone.place), tone.beats, tone.place, tone.midi, float(tone.place))
        for tone in play.tones
    )
    return judge(replace(take, notes=notes, alignment=None, doubts=()))


def shown(finding: Finding) -> str:
    """A finding in a line."""
    place = finding.place
    fields: dict[str, Any] = {
        "note": finding.note, "instead": finding.instead, "chord": finding.chord,
        "late": finding.beats_late, "amount": finding.amount, "bars": finding.bars,
        "certainty": finding.certainty, "reason": finding.reason,
    }  # fmt: skip
    values = " ".join(
        f"{name}={value}" for name, value in fields.items() if value not in {None, ""}
    )
    return f"{finding.kind} {place.chorus}:{place.bar}:{place.beat:g} {values}"


def false_in_exact(play: Playing, take: JudgedTake) -> Iterator[Finding]:
    """Faults that are told of a line that is played as it is written: of the rules alone."""
    return (finding for finding in exact(play, take).findings if finding.fault)
