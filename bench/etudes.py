"""How good are the etudes, by measure? A table by step, and the worst cases by name.

Run ``python bench/etudes.py [--quick] [--steps 1,3,6]``. Twelve invented progressions, every
step, five instruments and three levels: rules broken (asked again of what was written),
refusals, relative outline and the share of changes that are spelled
(`halfstep.harmony.outline`), bars that stand three times by accident, and bars that two
seeds share. Beside it, in the same run, the time that the plain arpeggio of each chart
takes: the bare walk over its chords.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from time import perf_counter

from halfstep.errors import BriefError
from halfstep.etude.parts import Brief, Etude
from halfstep.etude.steps import STEPS
from halfstep.etude.write import RuleBroken, write_etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.outline import LineNote, outline, plain_arpeggio
from halfstep.instruments import INSTRUMENTS, Level
from halfstep.progression.text import read_chart_text

CHARTS = {
    "ii-V-I": "| Dm7 | G7 | Cmaj7 | % | Em7b5 | A7b9 | Dm7 | G7 |",
    "minor ii-V-i": "| Dm7b5 | G7b9 | Cm6 | % | Fm7 | Bb7 | Ebmaj7 | Dm7b5 G7alt |",
    "blues": (
        "key: Eb\n| Eb7 | Ab7 | Eb7 | Bbm7 Eb7 | Ab7 | Adim7 | Eb7 | C7 "
        "| Fm7 | Bb7 | Eb7 C7 | Fm7 Bb7 |"
    ),
    "cycle": "key: Bb\n| D7 | % | G7 | % | C7 | % | F7 | % |",
    "thirds": "| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 |",
    "cliché": "| Cm | Cm(maj7) | Cm7 | Cm6 | Fm7 | Bb7 | Ebmaj7 | G7 |",
    "modal": "| Dm7 | % | % | % | Ebm7 | % | Dm7 | % |",
    "turning": (
        "key: Bb\n| Bb6 G7 | Cm7 F7 | Dm7 G7 | Cm7 F7 | Fm7 Bb7 | Eb6 Ab7 | Dm7 G7 | Cm7 F7 |"
    ),
    "waltz": "meter: 3/4\nkey: G\n| Gmaj7 | Em7 | Am7 | D7 | Bm7 | E7b9 | Am7 | D7 |",
    "five": "meter: 5/4\nkey: Ab\n| Abmaj7 | Fm7 | Bbm7 | Eb7 |",
    "triads": "key: D\n| D | G A | Bm | G A | D | Em | G | A |",
    "far": "key: Gb\n| Gbmaj7 | Ebm7 | Abm7 | Db7 | Bbm7 | Eb7 | Abm7 | Db7 |",
}
PLAYERS = ("alto-sax", "trumpet", "clarinet", "flute", "trombone")
TEMPO_BPM = 120.0


@dataclass(frozen=True, slots=True)
class Case:
    """One etude measured."""

    step: int
    name: str
    seconds: float
    relative: float | None
    spelled: float | None
    accidents: int
    shared: float


def bars_of(etude: Etude) -> list[tuple[object, ...]]:
    """What stands in each bar, counted from its start."""
    starts = [start for bar, start in etude.analysis.chart.placed() if bar.number >= 1]
    ends = [*starts[1:], etude.analysis.chart.beats]
    return [
        tuple((n.onset - start, n.beats, n.pitch) for n in etude.notes if start <= n.onset < end)
        for start, end in zip(starts, ends, strict=True)
    ]


def measured(step: int, name: str, analysis: Analysis, player: str, level: Level) -> Case:
    """An etude and one of another seed."""
    start = perf_counter()
    etude = write_etude(step, analysis, Brief(INSTRUMENTS[player], level, TEMPO_BPM, 1))
    seconds = perf_counter() - start
    other = write_etude(step, analysis, Brief(INSTRUMENTS[player], level, TEMPO_BPM, 2))
    line = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    found = outline(line, analysis.chart)
    told = [change.spelled for change in found.changes if change.spelled is not None]
    mine, theirs = bars_of(etude), bars_of(other)
    heard = Counter(bar for bar in mine if any(pitch for _, _, pitch in bar))  # type: ignore[misc]
    return Case(
        step,
        f"{name}, {player}, {level}",
        seconds,
        found.whole.relative,
        sum(told) / len(told) if told else None,
        sum(count >= 3 for count in heard.values()),
        sum(a == b for a, b in zip(mine, theirs, strict=True)) / len(mine),
    )


def cases(steps: Sequence[int], players: Sequence[str], refused: Counter[str]) -> Iterator[Case]:
    for name, text in CHARTS.items():
        chart = read_chart_text(text)
        for level in Level:
            analysis = analyse(chart, level=level)
            for player in players:
                for step in steps:
                    try:
                        yield measured(step, name, analysis, player, level)
                    except BriefError:
                        refused[f"{step} refused"] += 1
                    except RuleBroken as error:
                        refused[f"{step} broken"] += 1
                        print(f"RULE BROKEN: step {step}, {name}, {player}, {level}: {error}")


def plain_seconds() -> float:
    """The plain arpeggios of all the charts."""
    charts = [read_chart_text(text) for text in CHARTS.values()]
    start = perf_counter()
    for chart in charts:
        plain_arpeggio(chart)
    return (perf_counter() - start) / len(charts)


def shown(values: Sequence[float], *, worst: float) -> str:
    return f"{median(values):5.2f} {worst:5.2f}" if values else "    –     –"


def main(steps: Sequence[int], players: Sequence[str]) -> None:
    """Print the table by step, and the worst cases."""
    refused: Counter[str] = Counter()
    found = list(cases(steps, players, refused))
    print(
        f"{'step':10} {'etudes':>6} {'broken':>6} {'refused':>7}  {'outline':^11}  "
        f"{'changes':^11}  {'thrice':>6}  {'shared':^11}  ms"
    )
    for step in steps:
        of = [case for case in found if case.step == step]
        relative = [case.relative for case in of if case.relative is not None]
        spelled = [case.spelled for case in of if case.spelled is not None]
        shared = [case.shared for case in of]
        accidents = sum(case.accidents for case in of)
        print(
            f"{STEPS[step].name:10} {len(of):6} {refused[f'{step} broken']:6} "
            f"{refused[f'{step} refused']:7}  {shown(relative, worst=min(relative, default=0))}  "
            f"{shown(spelled, worst=min(spelled, default=0))}  "
            f"{accidents:6}  {shown(shared, worst=max(shared, default=0))}  "
            f"{median(case.seconds for case in of) * 1e3:.0f}"
        )
    print("worst outlines:")
    for step in steps:
        of = [case for case in found if case.step == step and case.relative is not None]
        low = min(of, key=lambda case: case.relative or 0.0, default=None)
        if low:
            print(f"  {STEPS[step].name:10} {low.relative:.2f}  {low.name}")
    each, plain = median(case.seconds for case in found), plain_seconds()
    print(f"an etude takes {each * 1e3:.0f} ms, {each / plain:.0f} times the plain arpeggio")


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--quick", action="store_true", help="one instrument")
    asked.add_argument("--steps", default="", help="numbers, with commas")
    options = asked.parse_args()
    chosen = [int(n) for n in options.steps.split(",")] if options.steps else sorted(STEPS)
    main(chosen, PLAYERS[:1] if options.quick else PLAYERS)
