"""Is what was done wrong found, and nothing else?

Run ``python bench/feedback.py --bank BANK.sf3 [--takes N] [--clean N] [--seed S]``. Each kind of
fault is planted in turn into a step of the program's own writing, alone and in twos, and the
take is recorded clean, in noise, in a room, with the backing in it, and in all three
(`planted_takes.py`). Thresholds were chosen on seeds below 1000; report on others.

Printed: for each kind planted, found and false; for each condition the same; how often what
is told with a certainty is true; false alarms a chorus and changes classed right on clean
takes; notes of a written line; and the time that judging takes beside that of listening alone.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

from planted_takes import (
    CLEAN,
    CONDITIONS,
    IMPROVISED,
    PLANTS,
    Condition,
    Planted,
    Playing,
    Studio,
    playing,
    session,
)  # fmt: skip

from halfstep.errors import HalfstepError
from halfstep.etude.steps import STEPS
from halfstep.services.feedback_reply import FeedbackReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.hear_take import HearTake, hear_take

TOLD = 0.6
"""From this certainty on something is told."""
SURE = 0.9
EDGES = (0.6, 0.7, 0.8, 0.9, 0.95, 1.01)
THIRTEEN = [step.name for step in STEPS if step.number]
IMPROVISED_STEPS = ("turning-scale", "cells", "one-line", "chorus", "arpeggio")


@dataclass(slots=True)
class Tables:
    """What is counted."""

    planted: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    false: Counter[str] = field(default_factory=Counter)
    by_condition: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    calibration: dict[float, Counter[bool]] = field(default_factory=lambda: defaultdict(Counter))
    told: list[str] = field(default_factory=list)

    def add(self, play: Playing, condition: Condition, reply: FeedbackReply, name: str) -> None:
        """Count one take."""
        data = reply.data()
        told = [f for f in data["findings"] if f["fault"] or f["kind"] in {"octave", "not-judged"}]
        told = [f for f in told if f["certainty"] >= TOLD]
        used: set[int] = set()
        for mark in play.planted:
            match = next(
                (n for n, f in enumerate(told) if n not in used and _is(f, mark, reply)), None
            )
            self.planted[mark.kind] += 1
            self.by_condition[condition.name]["planted"] += 1
            if match is None:
                self.told.append(f"lost  {name} {condition.name}: {mark.kind} at {mark.at}")
                continue
            used.add(match)
            self.found[mark.kind] += 1
            self.by_condition[condition.name]["found"] += 1
        for n, finding in enumerate(told):
            edge = max(edge for edge in EDGES if edge <= finding["certainty"])
            is_true = n in used or _follows(finding, play)
            self.calibration[edge][is_true] += 1
            if not is_true:
                self.false[finding["kind"]] += 1
                self.by_condition[condition.name]["false"] += 1
                self.told.append(f"false {name} {condition.name}: {_shown(finding)}")


def _is(finding: dict[str, Any], mark: Planted, reply: FeedbackReply) -> bool:
    """True for a finding of a planted fault."""
    if finding["kind"] != mark.kind:
        return False
    beats = reply.feedback.take.clock.beats(finding["time_s"])
    return mark.at is None or abs(beats - mark.at) <= mark.within


def _follows(finding: dict[str, Any], play: Playing) -> bool:
    """True for what is true besides, since it follows from what was planted."""
    kinds = {mark.kind for mark in play.planted}
    follows = {
        "change-missed": {"old-note-kept"},
        "old-note-kept": {"change-missed", "change-heard"},
        "form-slip": {"missed"},
        "straight": {"offset"},
        "dragging": {"offset"},
        "rushing": {"offset"},
    }
    return any(finding["kind"] in follows.get(kind, set()) for kind in kinds)


def _shown(finding: dict[str, Any]) -> str:
    fields = ("kind", "pass", "bar", "beat", "note", "instead", "amount", "bars", "certainty")
    return " ".join(f"{name}={finding[name]}" for name in fields if name in finding)


def judged(play: Playing, condition: Condition, studio: Studio, number: int) -> FeedbackReply:
    """A take recorded, heard and judged."""
    etude = None
    if play.with_line:
        etude = studio.folder / f"etude-{number}.json"
        etude.write_bytes(play.session.reply.file(".json").data)
    return give_feedback(
        GiveFeedback(
            studio.record(play, condition, number),
            chart=play.session.chart,
            backing=studio.backing(play.session.chart),
            instrument=play.session.instrument,
            level=str(play.session.reply.etude.brief.level),
            etude=etude,
        )
    )


def plans(count: int, seed: int) -> Iterator[tuple[Playing, Condition, str]]:
    """Takes with one fault, and every fourth with two."""
    rng, names = Random(seed), list(PLANTS)
    for number in range(count):
        name = names[number % len(names)]
        condition = CONDITIONS[(number // len(names)) % len(CONDITIONS)]
        for attempt in range(8):
            free = name in IMPROVISED
            step = rng.choice(IMPROVISED_STEPS if free else THIRTEEN)
            try:
                base = playing(session(step, seed + 100 * attempt + number), with_line=not free)
            except HalfstepError:
                continue
            play = PLANTS[name](base, rng)
            if play is not None and number % 4 == 3 and name != "clipped":
                second = PLANTS[rng.choice(["missed", "changed", "uneven"] if not free else [name])]
                play = second(play, rng) or play
            if play is not None:
                yield play, condition, f"{step} {play.session.instrument} {seed + number}"
                break


def main() -> None:
    """Record, judge, count and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bank", type=Path, required=True)
    parser.add_argument("--takes", type=int, default=200)
    parser.add_argument("--clean", type=int, default=50)
    parser.add_argument("--seed", type=int, default=2000)
    parser.add_argument("--show", action="store_true", help="every lost and false one")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        studio = Studio(options.bank, Path(folder))
        planted(studio, options)
        clean(studio, options)


def planted(studio: Studio, options: argparse.Namespace) -> None:
    """The takes with planted faults."""
    tables, failed = Tables(), 0
    for number, (play, condition, name) in enumerate(plans(options.takes, options.seed)):
        try:
            tables.add(play, condition, judged(play, condition, studio, number), name)
        except HalfstepError as error:
            failed += 1
            tables.told.append(f"error {name} {condition.name}: {error}")
    if options.show:
        print("\n".join(tables.told))
    print(f"\n{'kind':16} planted found false")
    for kind in sorted({*tables.planted, *tables.false}):
        _row(kind, tables.planted[kind], tables.found[kind], tables.false[kind])
    _row("all", tables.planted.total(), tables.found.total(), tables.false.total())
    print(f"refused: {failed}\n")
    for name, counts in tables.by_condition.items():
        _row(name, counts["planted"], counts["found"], counts["false"])
    print("\ncertainty   told  true")
    for low, high in pairwise(EDGES):
        counts = tables.calibration[low]
        share = 100 * counts[True] / max(1, counts.total())
        print(f"{low:.2f}-{min(high, 1):.2f} {counts.total():6d} {share:5.1f} %")


def _row(name: str, planted: int, found: int, false: int) -> None:
    print(f"{name:16} {planted:7d} {found:5d} {false:5d} {100 * found / max(1, planted):6.1f} %")


def clean(studio: Studio, options: argparse.Namespace) -> None:
    """Takes in which nothing is wrong: false alarms, changes, and how long judging takes."""
    false, right, changes, choruses = Counter[str](), 0, 0, 0
    heard_s = judged_s = 0.0
    for number in range(options.clean):
        step = THIRTEEN[number % len(THIRTEEN)]
        play = playing(session(step, options.seed + 5000 + number))
        place = 100_000 + number
        begun = time.process_time()
        reply = judged(play, CLEAN, studio, place)
        judged_s += time.process_time() - begun
        begun = time.process_time()
        hear_take(
            HearTake(
                studio.folder / f"take-{place}.wav",
                backing=studio.backing(play.session.chart),
                instrument=play.session.instrument,
            )
        )
        heard_s += time.process_time() - begun
        data = reply.data()
        choruses += play.session.passes
        for finding in data["findings"]:
            if finding["fault"] and finding["certainty"] >= TOLD:
                false[finding["kind"]] += 1
                if options.show:
                    print(f"clean {step} {play.session.instrument}: {_shown(finding)}")
        good = {"on-time", "nothing-differs", "not-judged"}
        changes += len(data["changes"])
        right += sum(change["heard"] in good for change in data["changes"])
    print(
        f"\nclean: {options.clean} takes, {choruses} choruses, {false.total()} false: {dict(false)}"
    )
    print(f"false a chorus {false.total() / max(1, choruses):.2f}")
    print(f"changes classed right {100 * right / max(1, changes):.1f} % of {changes}")
    print(f"recorded, heard and judged {judged_s:.1f} s, heard alone {heard_s:.1f} s")


if __name__ == "__main__":
    main()
