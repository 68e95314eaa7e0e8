"""Is what was done wrong found, and nothing else?

Run ``python bench/feedback.py --bank BANK.sf3 [--takes N] [--notes N] [--clean N] [--seed S]
[--processes N]``. Each kind of fault is planted in turn into a step of the program's own
writing, alone and, in every fourth take, with another (`planted_faults.py`), and the take is
recorded clean, in noise, in a room, with the backing in it, in all three, and with headphones
(`planted_takes.py`), the device late by 0 to 300 ms that nobody says. What is true is said in
`judged_truth.py`. Thresholds and certainties were chosen on seeds below 1000; report on others.

Printed: planted, found and false by kind and condition; how often what is told with a certainty
is true; notes of a written line, with one in eight wrong; false alarms a chorus and changes
classed right on clean takes of all thirteen steps, and on clean improvised ones. A written step
played as if it were improvised has the rests and figures that the step has: what is told of
those is true. `feedback_speed.py` measures time and memory.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from pathlib import Path
from random import Random

from judged_truth import Examined, ToldFinding, examine
from planted_faults import ALONE, BY_LINE, IMPROVISED, SECOND, WITH_BACKING, Plant, several
from planted_takes import CLEAN, CONDITIONS, Condition, Playing, Studio, playing, session

from halfstep.errors import HalfstepError
from halfstep.etude.steps import STEPS

EDGES = (0.6, 0.7, 0.8, 0.9, 0.95, 1.01)
SURE = 0.9
THIRTEEN = [step.name for step in STEPS if step.number]
IMPROVISED_STEPS = ("turning-scale", "cells", "one-line", "chorus", "arpeggio")
HEADPHONES = CONDITIONS[-1]

Plan = tuple[Playing, Condition, str, str]
"""What is played, how it sounds, its name and its group."""


def plans(count: int, seed: int) -> Iterator[Plan]:
    """Takes with one fault, and every fourth with two."""
    plants = {**BY_LINE, **IMPROVISED}
    names = list(plants)
    for number in range(count):
        label = names[number % len(names)]
        turn = number // len(names) + number % len(names)
        conditions = CONDITIONS[:-1] if label in WITH_BACKING else CONDITIONS
        condition = HEADPHONES if label == "wrong chart" else conditions[turn % len(conditions)]
        play = _planted(plants[label], label, Random(seed + number), seed + number)
        if play is not None:
            yield play, condition, f"{label} {play.session.instrument} {seed + number}", "planted"


def _planted(plant: Plant, label: str, rng: Random, seed: int) -> Playing | None:
    """A step with something wrong; another step where this one gives no chance to."""
    free = label in IMPROVISED
    for attempt in range(12):
        base = _base(rng.choice(IMPROVISED_STEPS if free else THIRTEEN), seed, attempt, free)
        play = plant(base, rng) if base else None
        if play is not None and seed % 4 == 3 and label not in ALONE:
            play = rng.choice(SECOND[not free])(play, rng) or play
        if play is not None:
            return play
    return None


def _base(step: str, seed: int, attempt: int, free: bool) -> Playing | None:
    try:
        # another chart at each attempt: some faults have a place in one of them alone
        return playing(session(step, seed + 10_001 * attempt), with_line=not free)
    except HalfstepError:
        return None


def wrong_notes(count: int, seed: int) -> Iterator[Plan]:
    """Takes of written steps with one note in eight wrong."""
    for number in range(count):
        step = THIRTEEN[number % len(THIRTEEN)]
        base = _base(step, seed + 20_000 + number, 0, free=False)
        if base is not None:
            play = several(base, Random(seed + number))
            yield play, CONDITIONS[number % len(CONDITIONS)], f"{step} {number}", "notes"


def clean(count: int, seed: int) -> Iterator[Plan]:
    """Takes in which nothing is wrong, and half as many improvised ones."""
    for number in range(count):
        step = THIRTEEN[number % len(THIRTEEN)]
        base = _base(step, seed + 30_000 + number, 0, free=False)
        if base is not None:
            yield base, _clean_condition(number), f"{step} {number}", "clean"
    for number in range(count // 2):
        step = IMPROVISED_STEPS[number % len(IMPROVISED_STEPS)]
        base = _base(step, seed + 40_000 + number, 0, free=True)
        if base is not None:
            yield base, _clean_condition(number), f"{step} {number}", "improvised"


def _clean_condition(number: int) -> Condition:
    """Half of them as clean as can be, the others with all that may lie around a take."""
    return CLEAN if number % 2 else CONDITIONS[number // 2 % len(CONDITIONS)]


# --- many at once ------------------------------------------------------------------------


def examined(plan: Sequence[Plan], bank: Path, folder: Path, processes: int) -> list[Examined]:
    """All takes judged, by so many processes."""
    numbered = list(enumerate(plan))
    parts = [numbered[part::processes] for part in range(processes)]
    if processes == 1:
        return _examined_part(numbered, bank, folder)
    with ProcessPoolExecutor(processes) as pool:
        jobs = [pool.submit(_examined_part, part, bank, folder) for part in parts]
        return [take for job in jobs for take in job.result()]


def _examined_part(
    numbered: Sequence[tuple[int, Plan]], bank: Path, folder: Path
) -> list[Examined]:
    takes = []
    with tempfile.TemporaryDirectory(dir=folder) as part:
        studio = Studio(bank, Path(part))
        for number, (play, condition, name, group) in numbered:
            takes.append(examine(play, condition, studio, number, name, group))
            (studio.folder / f"take-{number}.wav").unlink(missing_ok=True)
    return takes


# --- tables ------------------------------------------------------------------------------


def main() -> None:
    """Record, judge, count and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bank", type=Path, required=True)
    parser.add_argument("--takes", type=int, default=228)
    parser.add_argument("--notes", type=int, default=26)
    parser.add_argument("--clean", type=int, default=52)
    parser.add_argument("--seed", type=int, default=2000)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--show", action="store_true", help="every lost and false one")
    options = parser.parse_args()
    plan = [
        *plans(options.takes, options.seed),
        *wrong_notes(options.notes, options.seed),
        *clean(options.clean, options.seed),
    ]
    with tempfile.TemporaryDirectory() as folder:
        takes = examined(plan, options.bank, Path(folder), options.processes)
    if options.show:
        show(takes)
    report(takes)


def show(takes: Iterable[Examined]) -> None:
    """Every one that was lost, and every one that is false."""
    for take in takes:
        name = f"{take.name} [{take.condition}]"
        if take.error:
            print(f"error {name}: {take.error}")
        for text in take.lost:
            print(f"lost  {name}: {text}")
        for told in take.told:
            if not told.is_true and (told.is_fault or told.certainty > SURE):
                print(f"{'false' if told.is_fault else 'craft'} {name}: {told.text}")


def report(takes: Sequence[Examined]) -> None:
    """All tables."""
    by_group = {take.group: [t for t in takes if t.group == take.group] for take in takes}
    by_kind(by_group.get("planted", []))
    calibration("faults", (told for take in takes for told in take.told if told.is_fault))
    calibration("all that is told", (told for take in takes for told in take.told))
    notes([take for take in takes if take.notes])
    matches(takes)
    for group in ("clean", "improvised"):
        of_clean(group, by_group.get(group, []))


def by_kind(takes: Sequence[Examined]) -> None:
    """Planted, found and false, for each kind and each condition."""
    names = [condition.name for condition in CONDITIONS]
    planted, found, false = (Counter[tuple[str, str]]() for _ in range(3))
    for take in takes:
        planted.update((name, take.condition) for name, _ in take.marks)
        found.update((name, take.condition) for name, is_found in take.marks if is_found)
        false.update((t.kind, take.condition) for t in false_faults(take))
    print(f"{'planted/found/false':18}" + "".join(f"{name:>12}" for name in [*names, "all"]))
    for kind in sorted({name for name, _ in (*planted, *false)}):
        cells = [(planted[kind, name], found[kind, name], false[kind, name]) for name in names]
        _row(kind, cells)
    totals = [
        tuple(sum(n for (_, where), n in counts.items() if where == name)
              for counts in (planted, found, false))
        for name in names
    ]  # fmt: skip
    _row("all", totals)
    choruses = sum(take.choruses for take in takes)
    print(f"false a chorus {false.total() / max(1, choruses):.2f}; refused: "
          f"{sum(bool(take.error) for take in takes)}")  # fmt: skip


def _row(kind: str, cells: Sequence[Sequence[int]]) -> None:
    whole = [sum(column) for column in zip(*cells, strict=True)]
    texts = ["/".join(map(str, cell)) for cell in [*cells, whole]]
    share = f"{100 * whole[1] / whole[0]:6.1f} %" if whole[0] else ""
    print(f"{kind:18}" + "".join(f"{text:>12}" for text in texts) + share)


def false_faults(take: Examined) -> Iterator[ToldFinding]:
    """What was told as a fault and is none."""
    return (told for told in take.told if told.is_fault and not told.is_true)


def calibration(title: str, findings: Iterable[ToldFinding]) -> None:
    """How often what is told with a certainty is true."""
    told = list(findings)
    print(f"\n{title:20} told    true")
    for low, high in pairwise(EDGES):
        _calibration_row(f"{low:.2f} to {min(high, 1.0):.2f}", told, low, high)
    _calibration_row(f"above {SURE}", told, SURE + 1e-9, 2.0)


def _calibration_row(name: str, told: Iterable[ToldFinding], low: float, high: float) -> None:
    trues = [finding.is_true for finding in told if low <= finding.certainty < high]
    print(f"{name:20} {len(trues):4d} {100 * sum(trues) / max(1, len(trues)):6.1f} %")


def notes(takes: Sequence[Examined]) -> None:
    """Notes of a written line: F1 at 50 ms, and how surely each is read as itself."""
    some = [take for take in takes if take.group == "notes"]
    counts = sum((take.notes for take in some), Counter())
    print("\nwith one note in eight wrong, within 50 ms")
    for kind in ("missed", "added", "changed"):
        hit, false, lost = (counts[kind, what] for what in ("hit", "false", "lost"))
        f1 = 200 * hit / max(1, 2 * hit + false + lost)
        print(f"{kind:8} F1 {f1:5.1f}   found {hit}, false {false}, lost {lost}")
    late = sorted(n for take in takes for n in take.recoveries)
    print(f"notes until back on track after a jump: {late}")


def matches(takes: Sequence[Examined]) -> None:
    """How many played notes are read as what they are, by condition.

    Those that were heard, and all of takes that are read by their line; those of the others,
    with two voices, under a loud backing or without a bar 1, are counted beside them.
    """
    names = [condition.name for condition in CONDITIONS]
    print(f"\n{'read right':12}  of heard  of played   played   unread")
    for name in [*names, ""]:
        some = [take.matched for take in takes if name in {take.condition, ""}]
        counts = sum(some, Counter())
        played, heard, right = (counts[what] for what in ("played", "heard", "right"))
        read = played - counts["unread"]
        shares = (f"{100 * right / max(1, of):8.2f} %" for of in (heard, read))
        print(f"{name or 'all':12}{''.join(shares)} {played:8} {counts['unread']:8}")


def of_clean(group: str, takes: Sequence[Examined]) -> None:
    """Takes in which nothing is wrong."""
    false = Counter(told.kind for take in takes for told in false_faults(take))
    choruses = sum(take.choruses for take in takes)
    changes = sum((take.changes for take in takes), Counter())
    print(f"\n{group}: {len(takes)} takes, {choruses} choruses, {false.total()} false, "
          f"{false.total() / max(1, choruses):.2f} a chorus: {dict(false)}")  # fmt: skip
    share = 100 * changes["right"] / max(1, changes.total())
    print(f"changes classed right: {share:.1f} % of {changes.total()}")


if __name__ == "__main__":
    main()
