"""How good are the etudes, by measure? A table by step, and the worst cases by name.

Run ``python bench/etudes.py [--quick] [--steps 1,3,6] [--charts blues,far] [--worst 3]``; of the
vocabulary it takes what ``--steps`` names.
Seventeen invented progressions, among them a form that comes again, chords of eight bars
and a pickup, every step, five instruments and three levels; ``--quick`` takes one
instrument. For each step:

- rules broken, asked again of what was written, and refusals;
- relative outline (`halfstep.harmony.outline`): median, worst, and the share of etudes at
  or above the mark of the step, where it has one;
- the share of all changes that are spelled, and the median and worst etude;
- bars that stand three times, counted once each;
- of the stretches of four bars whose chords come again, those whose notes do too;
- bars that two seeds share: median and worst, and etudes that share half or more; of
  these the forced ones, that share less than half of the bars for which the step allows
  this player more than one scale from root to root (counted here, without the writer);
- intervals in per cent: repeats, steps, thirds, fourths and fifths, sixths to octaves,
  wider; the share of notes at which the line turns; and of notes that come in loops of
  two or three (the same two or three notes straight again);
- where in the form the highest note first stands, from 0 to 1.

Beside it, in the same run, the time that the plain arpeggio of each chart takes: the bare
walk over its chords.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from time import perf_counter

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import RuleBroken, write_etude
from halfstep.etude.palette import Palette, chord_palettes
from halfstep.etude.slots import Piece, is_strong, pieces
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS, parse_steps
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.line_figures import plain_arpeggio
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import EIGHTH
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text

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
    "halves": "key: B\n| Bmaj7 G#m7 | C#m7 F#7 | D#m7b5 G#7b9 | C#m7 F#7 | Emaj7 A7 | Bmaj7 F#7 |",
    "six eight": "meter: 6/8\nkey: Dm\n| Dm | Bbmaj7 | Gm7 A7 | Dm7 | Em7b5 | % | A7b9 | A7 |",
    "long": "key: F\n| Dm7 | % | % | % | % | % | % | % | Ebm7 | % | % | % | % | % | % | % |",
    "again": (
        "key: F\n| Fmaj7 | D7 | Gm7 | C7 | Am7 D7 | Gm7 | C7 | F6 "
        "| Fmaj7 | D7 | Gm7 | C7 | Am7 D7 | Gm7 | C7 | F6 "
        "| Cm7 | F7 | Bbmaj7 | % | Dm7 | G7 | Gm7 | C7 "
        "| Fmaj7 | D7 | Gm7 | C7 | Am7 D7 | Gm7 | C7 | F6 |"
    ),
    "pickup": "key: C\n{pickup 1} G7 | Cmaj7 | A7 | Dm7 | N.C. | Dm7 G7 | Em7 A7 | Dm7 G7 | C6 |",
}
TEMPOS_BPM = {"turning": 240.0, "six eight": 72.0}
"""Where it is not 120."""
PLAYERS = ("alto-sax", "trumpet", "clarinet", "flute", "trombone")


@dataclass(frozen=True, slots=True)
class Case:
    """One etude measured.

    ``told`` and ``changes`` count changes, ``copied`` and ``again`` four bars whose chords
    came before; ``sizes`` are semitones.
    """

    step: Step
    name: str
    seconds: float
    relative: float | None
    told: int
    changes: int
    thrice: int
    copied: int
    again: int
    shared: float
    unforced: float
    sizes: tuple[int, ...]
    turns: int
    loops: int
    high: float

    @property
    def spelled(self) -> float | None:
        """The share of the changes that are spelled."""
        return self.told / self.changes if self.changes else None


def bars_of(etude: Etude) -> list[tuple[object, ...]]:
    """What stands in each bar, counted from its start."""
    starts = [start for bar, start in etude.analysis.chart.placed() if bar.number >= 1]
    ends = [*starts[1:], etude.analysis.chart.beats]
    return [
        tuple((n.onset - start, n.beats, n.pitch) for n in etude.notes if start <= n.onset < end)
        for start, end in zip(starts, ends, strict=True)
    ]


def copies(etude: Etude, size: int = 4) -> tuple[int, int]:
    """Of the stretches of bars whose chords came before: those with equal notes, and all."""
    bars = bars_of(etude)
    form = etude.analysis.chart.form
    chords = [tuple((str(at.symbol), at.at) for at in bar.chords) for bar in form]
    blocks = [
        (tuple(chords[n : n + size]), tuple(bars[n : n + size]))
        for n in range(0, len(bars) - size + 1, size)
        if all(chords[n : n + size])
    ]
    again = [n for n, block in enumerate(blocks) if block[0] in {old for old, _ in blocks[:n]}]
    return sum(blocks[n] in blocks[:n] for n in again), len(again)


def forced_bars(etude: Etude) -> set[int]:
    """Bars of a beginner's scales, from 0, that allow only one way from root to root.

    They have a chord of their own and just the eighths for an octave; counted are the ways
    up and down in the player's range that keep the fourth off the strong beats.
    """
    if etude.step.name != "scale" or etude.brief.level is not Level.BEGINNER:
        return set()
    cut, palettes = pieces(etude.analysis), chord_palettes(etude.analysis, etude.brief)
    alone = Counter(piece.chord for piece in cut)
    forced = set()
    for piece in cut:
        palette = palettes[piece.chord]
        if palette is None or alone[piece.chord] > 1 or piece.beats != piece.bar.beats:
            continue
        eighths = piece.beats / EIGHTH
        if eighths == len(palette.degrees) + 1 and len(list(_octaves(piece, palette))) == 1:
            forced.add(piece.bar.number - 1)
    return forced


def _octaves(piece: Piece, palette: Palette) -> Iterator[list[int]]:
    """The scales from root to root over a bar of eighths, up and down."""
    ladder = [int(midi) for midi in palette.scale.nonzero()[0]]
    count = len(palette.degrees) + 1
    strong = [n for n in range(count) if is_strong(piece, piece.start + n * EIGHTH, first=n == 0)]
    for low in range(len(ladder) - count + 1):
        rising = ladder[low : low + count]
        if rising[0] % 12 == palette.root_class and rising[-1] == rising[0] + 12:
            for run in (rising, rising[::-1]):
                if not any(palette.avoid[run[n]] for n in strong):
                    yield run


def shared_bars(etude: Etude, other: Etude, forced: Set[int] = frozenset()) -> float:
    """The share of bars that two etudes have in common, of those that are not forced."""
    pairs = [
        tuple([(onset, pitch) for onset, _, pitch in bar if pitch] for bar in both)
        for number, both in enumerate(zip(bars_of(etude), bars_of(other), strict=True))
        if number not in forced
    ]
    sounding = [pair for pair in pairs if any(pair)]
    return sum(a == b for a, b in sounding) / len(sounding) if sounding else 0.0


def looping(midis: Sequence[int]) -> int:
    """Notes that end the same two or three notes straight again, such as C E G C E G."""
    ends = range(len(midis))
    return sum(
        any(
            end + 1 >= 2 * size
            and midis[end + 1 - size : end + 1] == midis[end + 1 - 2 * size : end + 1 - size]
            and len({*midis[end + 1 - size : end + 1]}) > 1
            for size in (2, 3)
        )
        for end in ends
    )


def measured(step: Step, name: str, analysis: Analysis, player: str, level: Level) -> Case:
    """An etude and one of another seed."""
    brief = Brief(INSTRUMENTS[player], level, TEMPOS_BPM.get(name, 120.0), 1)
    start = perf_counter()
    etude = write_etude(step, analysis, brief)
    seconds = perf_counter() - start
    other = write_etude(step, analysis, replace(brief, seed=2))
    line = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    figures = outline(line, analysis.chart)
    bars = bars_of(etude)
    counts = Counter(bar for bar in bars if any(pitch for _, _, pitch in bar))  # type: ignore[misc]
    midis = [note.midi for note in line]
    moves = [b - a for a, b in pairwise(midis)]
    return Case(
        step,
        f"{name}, {player}, {level}",
        seconds,
        figures.whole.relative,
        sum(bool(change.spelled) for change in figures.tested),
        len(figures.tested),
        sum(count >= 3 for count in counts.values()),
        *copies(etude),
        shared_bars(etude, other),
        shared_bars(etude, other, forced_bars(etude)),
        tuple(map(abs, moves)),
        sum(a * b < 0 for a, b in pairwise(moves)),
        looping(midis),
        midis.index(max(midis)) / len(midis),
    )


def cases(
    steps: Sequence[Step], players: Sequence[str], charts: Sequence[str], refused: Counter[str]
) -> Iterator[Case]:
    for name in charts:
        chart = played(read_sheet_text(CHARTS[name]))
        for level in Level:
            analysis = analyse(chart, level=level)
            for player in players:
                for step in steps:
                    try:
                        yield measured(step, name, analysis, player, level)
                    except BriefError:
                        refused[f"{step.name} refused"] += 1
                    except RuleBroken as error:
                        refused[f"{step.name} broken"] += 1
                        print(f"RULE BROKEN: step {step.name}, {name}, {player}, {level}: {error}")


def plain_seconds() -> float:
    """The plain arpeggios of all the charts."""
    charts = [played(read_sheet_text(text)) for text in CHARTS.values()]
    start = perf_counter()
    for chart in charts:
        plain_arpeggio(chart)
    return (perf_counter() - start) / len(charts)


CLASSES = ((0, 0), (1, 2), (3, 4), (5, 7), (8, 12), (13, 99))
"""Intervals in semitones: repeat, step, third, fourth or fifth, up to an octave, wider."""
HEAD = (
    "step       etudes broken refused   outline    ok%  changes% med worst  thrice copied  "
    "  shared  half forced  rep stp 3rd 4/5 -8. +8.  turn%  loop%  high   ms"
)


def shown(values: Sequence[float], worst: Callable[[Sequence[float]], float] = min) -> str:
    """The median and the worst."""
    return f"{median(values):5.2f} {worst(values):5.2f}" if values else "    –     –"


def percent(part: int, whole: int) -> str:
    """A share in per cent; a dash of nothing."""
    return f"{100 * part / whole:3.0f}" if whole else "  –"


def row(step: Step, of: Sequence[Case]) -> str:
    """The figures of a step."""
    relative = [case.relative for case in of if case.relative is not None]
    spelled = [case.spelled for case in of if case.spelled is not None]
    sizes = [size for case in of for size in case.sizes]
    reached = sum(share >= (step.least_outline or 9.0) for share in relative)
    intervals = [sum(low <= size <= high for size in sizes) for low, high in CLASSES]
    cells = (
        shown(relative),
        percent(reached, len(relative)) if step.least_outline else "  –",
        f"{percent(sum(c.told for c in of), sum(c.changes for c in of))}  {shown(spelled)}",
        f"{sum(case.thrice for case in of):6}",
        f"{sum(case.copied for case in of):3}/{sum(case.again for case in of):<3}",
        f"{shown([case.shared for case in of], max)} {sum(case.shared >= 0.5 for case in of):4} "
        f"{sum(case.unforced < 0.5 <= case.shared for case in of):6}",
        " ".join(percent(count, len(sizes)) for count in intervals),
        f"{percent(sum(case.turns for case in of), len(sizes)):>5}",
        f"{percent(sum(case.loops for case in of), len(sizes)):>5}",
        f"{median(case.high for case in of):.2f}",
        f"{median(case.seconds for case in of) * 1e3:3.0f}",
    )
    return "  ".join(cells)


def print_worst(written: Sequence[Case], steps: Sequence[Step], count: int) -> None:
    """The cases with the worst outlines, changes and shared bars of each step."""
    for title, figure, sign in (
        ("outlines", "relative", 1),
        ("changes", "spelled", 1),
        ("shared bars", "shared", -1),
    ):
        print(f"worst {title}:")
        for step in steps:
            of = [c for c in written if c.step == step and getattr(c, figure) is not None]
            for case in sorted(of, key=lambda case: sign * getattr(case, figure))[:count]:
                print(f"  {step.short_name:10} {getattr(case, figure):.2f}  {case.name}")


def main(steps: Sequence[Step], players: Sequence[str], charts: Sequence[str], worst: int) -> None:
    """Print the table by step, and the worst cases."""
    refused: Counter[str] = Counter()
    written = list(cases(steps, players, charts, refused))
    print(HEAD)
    for step in steps:
        of = [case for case in written if case.step == step]
        counts = (
            f"{len(of):6} {refused[f'{step.name} broken']:6} {refused[f'{step.name} refused']:7}"
        )
        print(f"{step.short_name:10} {counts}  {row(step, of) if of else ''}")
    print_worst(written, steps, worst)
    etude_s, plain_s = median(case.seconds for case in written), plain_seconds()
    print(
        f"an etude takes {etude_s * 1e3:.0f} ms, {etude_s / plain_s:.0f} times the plain arpeggio"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="one instrument")
    parser.add_argument("--steps", default="", help="such as 1-6 or scale,cells")
    parser.add_argument("--charts", default=",".join(CHARTS), help="names, with commas")
    parser.add_argument("--worst", type=int, default=1, help="how many worst cases of each step")
    options = parser.parse_args()
    chosen = parse_steps(options.steps) if options.steps else STEPS
    main(
        chosen,
        PLAYERS[:1] if options.quick else PLAYERS,
        options.charts.split(","),
        options.worst,
    )
