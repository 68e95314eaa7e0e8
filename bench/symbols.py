"""How fast are chord symbols read and spelled, beside two libraries?

Run ``python bench/symbols.py [count]``; music21, which is slow, reads the first ``count``.
One list, shuffled with a seed: every suffix of the vocabulary on thirty-five roots, each
symbol once. Ours reads the text and spells the tones; music21 (BSD) does the same;
mir_eval (MIT) encodes the same chord, written as a Harte label, to pitch classes without
spelling. Our caches are cleared before each run. Then ours alone, on the whole vocabulary
and with basses.
"""

from __future__ import annotations

import random
import sys
import warnings
from collections.abc import Callable, Sequence
from statistics import median
from time import perf_counter

from halfstep.harmony import tones
from halfstep.progression import symbol

SEED = 20
RUNS = 7
ROOTS = tuple(letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#", "bb", "##"))

SUFFIXES = {
    "": ("maj", ""),
    "m": ("min", "m"),
    "dim": ("dim", "dim"),
    "+": ("aug", "+"),
    "5": ("5", "power"),
    "7": ("7", "7"),
    "maj7": ("maj7", "maj7"),
    "m7": ("min7", "m7"),
    "m(maj7)": ("minmaj7", "mM7"),
    "m7b5": ("hdim7", "m7b5"),
    "dim7": ("dim7", "dim7"),
    "6": ("maj6", "6"),
    "m6": ("min6", "m6"),
    "9": ("9", "9"),
    "m9": ("min9", "m9"),
    "maj9": ("maj9", "M9"),
    "m11": ("min11", "m11"),
    "13": ("7(9,13)", "7add9add13"),
    "m13": ("min7(9,13)", "m7add9add13"),
    "maj13": ("maj7(9,13)", "M7add9add13"),
    "sus4": ("sus4", "sus4"),
    "sus2": ("sus2", "sus2"),
    "7sus4": ("sus4(b7)", "7sus4"),
    "9sus4": ("sus4(b7,9)", "7sus4add9"),
    "7sus4b9": ("sus4(b7,b9)", "7sus4addb9"),
    "6/9": ("maj6(9)", "6add9"),
    "m6/9": ("min6(9)", "m6add9"),
    "add9": ("maj(9)", "add9"),
    "madd9": ("min(9)", "madd9"),
    "7b9": ("7(b9)", "7addb9"),
    "7#9": ("7(#9)", "7add#9"),
    "7#11": ("7(#11)", "7add#11"),
    "7b13": ("7(b13)", "7addb13"),
    "7b9b13": ("7(b9,b13)", "7addb9addb13"),
    "7#9b13": ("7(#9,b13)", "7add#9addb13"),
    "9#11": ("9(#11)", "9add#11"),
    "13b9": ("7(b9,13)", "7addb9add13"),
    "7b5": ("(3,b5,b7)", "7alterb5"),
    "7#5": ("aug(b7)", "7+"),
    "maj7#5": ("aug(7)", "+M7"),
    "maj7#11": ("maj7(#11)", "M7add#11"),
    "11(add3)": ("11", "11"),
}
"""Our suffix, then the same chord for mir_eval and for music21."""


def clear() -> None:
    """Empty every cache of ours."""
    for module in (symbol, tones):
        for made in vars(module).values():
            if hasattr(made, "cache_clear"):
                made.cache_clear()


def ours(text: str) -> object:
    return tones.chord_tones(symbol.parse_symbol(text))


def rate(work: Callable[[str], object], texts: Sequence[str], *, runs: int = RUNS) -> float:
    """Symbols a second, the median of runs with cold caches."""
    return median(_run(work, texts) for _ in range(runs))


def _run(work: Callable[[str], object], texts: Sequence[str]) -> float:
    clear()
    start = perf_counter()
    for text in texts:
        work(text)
    return len(texts) / (perf_counter() - start)


def sound_alike(mine: Sequence[str], harte: Sequence[str]) -> int:
    """How many of the pairs have the same pitch classes, by mir_eval and by us."""
    from mir_eval import chord

    count = 0
    for text, label in zip(mine, harte, strict=True):
        root, bitmap, _ = chord.encode(label, reduce_extended_chords=True)
        theirs = {(root + step) % 12 for step in range(12) if bitmap[step]}
        found = tones.chord_tones(symbol.parse_symbol(text))
        count += theirs == {tone.name.pitch_class for tone in found}
    return count


def main(music21_count: int) -> None:
    """Print the rates and their ratios."""
    from mir_eval import chord
    from music21 import harmony

    pairs = [(root, suffix) for suffix in SUFFIXES for root in ROOTS]
    random.Random(SEED).shuffle(pairs)
    mine = [root + suffix for root, suffix in pairs]
    harte = [f"{root}:{SUFFIXES[suffix][0]}" for root, suffix in pairs]
    figures = [root.replace("b", "-") + SUFFIXES[suffix][1] for root, suffix in pairs]
    here, mir_eval = rate(ours, mine), rate(chord.encode, harte)
    music21 = rate(lambda f: harmony.ChordSymbol(f).pitches, figures[:music21_count], runs=1)
    print(f"{len(mine)} symbols: {len(SUFFIXES)} suffixes on {len(ROOTS)} roots, seed {SEED}")
    print(f"{sound_alike(mine, harte)} of them sound as mir_eval's labels do")
    print(f"halfstep  {here:10,.0f} symbols a second")
    print(f"mir_eval  {mir_eval:10,.0f}  halfstep is {here / mir_eval:.2f} times as fast")
    print(f"music21   {music21:10,.0f}  halfstep is {here / music21:.0f} times as fast")
    over = [f"{text}/{bass}" for text in mine[:: len(ROOTS)] for bass in ROOTS]
    random.Random(SEED).shuffle(over)
    print(f"{len(over)} symbols with a bass: halfstep {rate(ours, over):,.0f} a second")


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    main(int(sys.argv[1]) if len(sys.argv) > 1 else len(SUFFIXES) * len(ROOTS))
