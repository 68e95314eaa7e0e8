"""Who can tell two heaps of phrases apart? Two judges, and how often they are right.

- `words` judge: every figure of a phrase is a word (n-grams of rhythm, intervals, degrees of
  the chord and contour), and a logistic regression weighs the words.
- `shapes` judge: some thirty numbers a phrase (density, sizes of intervals, turns, where the
  highest note stands, shares of rhythmic figures), and small trees weigh them, each tree
  mending what the ones before left (gradient boosting).

Phrases of one source are never in the fold that is learnt from and in the one that is asked.
Both heaps weigh the same, whatever their sizes, so chance is right in 50 %.

Sources: logistic regression with a quadratic penalty, gradient boosting after Friedman 2001
(both from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix
from solo_phrases import Phrase

Numbers = np.ndarray[Any, np.dtype[np.float64]]
Words = Callable[[Phrase], Iterator[tuple[object, ...]]]
Bins = np.ndarray[Any, np.dtype[np.int64]]
Judge = Callable[[Sequence[Phrase], Numbers, Sequence[Phrase]], Numbers]
FOLDS = 5
RARE = 3
"""Words in fewer phrases than that are not looked at."""
PENALTY = 1.0
TREES, RATE, LEAST_LEAF, CUTS = 120, 0.12, 12, 16


def _twelfths(beats: float) -> int:
    return round(beats * 12)


def rhythm_words(phrase: Phrase) -> Iterator[tuple[object, ...]]:
    """Places in the beat with gaps, one to four in a row; kinds of beat, one to three in a row."""
    notes = phrase.notes
    gaps = [min(48, _twelfths(b.onset - a.onset)) for a, b in pairwise(notes)]
    places = [_twelfths(note.onset % 1) for note in notes]
    steps = list(zip(places, gaps, strict=False))
    for count in (1, 2, 3, 4):
        for start in range(len(steps) - count + 1):
            yield ("gaps", *steps[start : start + count])
    beats: dict[int, list[int]] = {}
    for note, place in zip(notes, places, strict=True):
        beats.setdefault(int(note.onset + (place == 12)), []).append(place % 12)
    numbers = range(min(beats), max(beats) + 1)
    kinds = [tuple(beats.get(number, ())) for number in numbers]
    for count in (1, 2, 3):
        for start in range(len(kinds) - count + 1):
            yield ("beats", *kinds[start : start + count])
    for number, kind in zip(numbers, kinds, strict=True):
        yield ("in bar", number % 4, kind)
    yield ("begins", numbers[0] % 4, kinds[0])
    yield ("ends", numbers[-1] % 4, kinds[-1])
    yield ("lasts", int(np.log2(1 + len(kinds)) * 2))


def pitch_words(phrase: Phrase) -> Iterator[tuple[object, ...]]:
    """Intervals one to four in a row, degrees one to three, contour three to five, and shape."""
    notes = phrase.notes
    moves = [max(-13, min(13, b.midi - a.midi)) for a, b in pairwise(notes)]
    for count in (1, 2, 3, 4):
        for start in range(len(moves) - count + 1):
            yield ("moves", *moves[start : start + count])
    degrees = [None if n.root is None else (n.midi - n.root) % 12 for n in notes]
    for count in (1, 2, 3):
        for start in range(len(degrees) - count + 1):
            yield ("degrees", *degrees[start : start + count])
    for note, degree in zip(notes, degrees, strict=True):
        yield ("on", degree, note.onset % 2 == 0, note.onset % 1 == 0)
    yield ("first", degrees[0])
    yield ("last", degrees[-1])
    ways = [(move > 0) - (move < 0) for move in moves]
    for count in (3, 4, 5):
        for start in range(len(ways) - count + 1):
            yield ("ways", *ways[start : start + count])
    midis = [note.midi for note in notes]
    yield ("compass", (max(midis) - min(midis)) // 3)
    yield ("net", round((midis[-1] - midis[0]) / 4))
    yield ("top", int(4 * midis.index(max(midis)) / len(midis)))
    yield ("bottom", int(4 * midis.index(min(midis)) / len(midis)))


def all_words(phrase: Phrase) -> Iterator[tuple[object, ...]]:
    """What both of these say."""
    yield from rhythm_words(phrase)
    yield from pitch_words(phrase)


def words_judge(words: Words) -> Judge:
    """A logistic regression on the words of a phrase."""

    def judge(known: Sequence[Phrase], labels: Numbers, asked: Sequence[Phrase]) -> Numbers:
        counts = [Counter(words(phrase)) for phrase in known]
        seen = Counter(word for count in counts for word in count)
        numbers = {word: n for n, word in enumerate(w for w, times in seen.items() if times > RARE)}
        given = _table(counts, numbers)
        weights = _learnt(given, labels)
        told = _table([Counter(words(phrase)) for phrase in asked], numbers)
        return np.asarray(told @ weights[:-1] + weights[-1])

    return judge


def _table(counts: Sequence[Counter[Any]], numbers: dict[Any, int]) -> csr_matrix:
    """One row a phrase, of length one: the logarithms of its counts."""
    rows, columns, values = [], [], []
    for row, count in enumerate(counts):
        known = [
            (numbers[word], np.log1p(times)) for word, times in count.items() if word in numbers
        ]
        length = np.sqrt(sum(value**2 for _, value in known)) or 1.0
        rows += [row] * len(known)
        columns += [column for column, _ in known]
        values += [value / length * 4 for _, value in known]
    return csr_matrix((values, (rows, columns)), shape=(len(counts), len(numbers)))


def _even(labels: Numbers) -> Numbers:
    """Weights with which both heaps weigh the same."""
    share = labels.mean()
    return np.where(labels > 0.5, 0.5 / share, 0.5 / (1 - share))


def _learnt(given: csr_matrix, labels: Numbers) -> Numbers:
    signs, even = 2 * labels - 1, _even(labels)

    def loss(weights: Numbers) -> tuple[float, Numbers]:
        margins = signs * (given @ weights[:-1] + weights[-1])
        slopes = -signs * even / (1 + np.exp(margins))
        value = (even * np.logaddexp(0, -margins)).sum() + PENALTY / 2 * (weights[:-1] ** 2).sum()
        return value, np.append(given.T @ slopes + PENALTY * weights[:-1], slopes.sum())

    start = np.zeros(given.shape[1] + 1)
    return np.asarray(
        minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 200}).x
    )


FIGURES = (
    (0, 6), (), (6,), (0,), (6, 9), (0, 4, 8), (0, 3, 6, 9), (3, 6, 9),
)  # fmt: skip
"""Kinds of beat by where notes begin, in twelfths."""


SIZES = ((0, 0), (1, 1), (2, 2), (3, 4), (5, 7), (8, 12))
"""Classes of intervals in semitones."""


def shape_numbers(phrase: Phrase) -> list[float]:
    """What a phrase is like in numbers: density, intervals, turns, shape, rhythmic figures."""
    notes = phrase.notes
    midis = np.array([note.midi for note in notes])
    onsets = np.array([note.onset for note in notes])
    moves, gaps = np.diff(midis), np.diff(onsets)
    sizes, ways = np.abs(moves), np.sign(moves)
    turns = ways[1:] * ways[:-1] < 0
    runs = [len(list(run)) for run in _runs(ways.tolist())]
    beats: dict[int, list[int]] = {}
    for onset in onsets:
        beats.setdefault(int(onset + 1e-6), []).append(round(onset % 1 * 12))
    numbers = range(min(beats), max(beats) + 1)
    kinds = Counter(tuple(beats.get(number, ())) for number in numbers)
    return [
        float(len(notes)),
        float(onsets[-1] - onsets[0]),
        len(notes) / (onsets[-1] - onsets[0] + 0.5),
        float(np.mean(gaps)), float(np.std(gaps)), float(np.max(gaps)), float(np.min(gaps)),
        float(np.mean(sizes)), float(np.std(sizes)), float(np.max(sizes)),
        *(float(np.mean((sizes >= low) & (sizes <= high))) for low, high in SIZES),
        float(np.mean(turns)) if len(turns) else 0.0,
        float(np.mean(ways > 0)),
        float(max(runs)), float(np.mean(runs)),
        float(np.ptp(midis)), float(midis[-1] - midis[0]),
        float(np.argmax(midis)) / len(midis), float(np.argmin(midis)) / len(midis),
        float(np.polyfit(onsets, midis, 1)[0]),
        float(onsets[0] % 4), float(onsets[-1] % 4), float(onsets[0] % 1), float(onsets[-1] % 1),
        float(np.mean(onsets % 1 == 0)),
        *(kinds[figure] / len(numbers) for figure in FIGURES),
    ]  # fmt: skip


def _runs(ways: Sequence[int]) -> Iterator[list[int]]:
    run: list[int] = []
    for way in ways:
        if run and way != run[-1]:
            yield run
            run = []
        run.append(way)
    yield run


def shapes_judge(known: Sequence[Phrase], labels: Numbers, asked: Sequence[Phrase]) -> Numbers:
    """Boosted trees of three questions on the numbers of a phrase."""
    given = np.array([shape_numbers(phrase) for phrase in known])
    told = np.array([shape_numbers(phrase) for phrase in asked])
    edges = [np.unique(np.quantile(c, np.linspace(0, 1, CUTS + 2)[1:-1])) for c in given.T]
    given_bins, told_bins = _binned(given, edges), _binned(told, edges)
    even = _even(labels)
    known_margin, asked_margin = np.zeros(len(known)), np.zeros(len(asked))
    for _ in range(TREES):
        share = 1 / (1 + np.exp(-known_margin))
        slopes, curves = even * (labels - share), even * share * (1 - share)
        _grow(given_bins, told_bins, slopes, curves, known_margin, asked_margin)
    return asked_margin


def _binned(table: Numbers, edges: Sequence[Numbers]) -> Bins:
    columns = zip(edges, table.T, strict=True)
    return np.stack([np.searchsorted(edge, column, side="right") for edge, column in columns])


def _grow(
    given: Bins, told: Bins, slopes: Numbers, curves: Numbers, known: Numbers, asked: Numbers
) -> None:
    """One more tree: a question, and one more of each answer."""
    stack = [(np.ones(len(known), bool), np.ones(len(asked), bool), 3)]
    while stack:
        here, there, depth = stack.pop()
        split = _best_split(given[:, here], slopes[here], curves[here]) if depth else None
        if split is None:
            step = RATE * slopes[here].sum() / (curves[here].sum() + 1.0)
            known[here] += step
            asked[there] += step
            continue
        column, cut = split
        low_here, low_there = given[column] <= cut, told[column] <= cut
        stack.append((here & low_here, there & low_there, depth - 1))
        stack.append((here & ~low_here, there & ~low_there, depth - 1))


def _best_split(bins: Bins, slopes: Numbers, curves: Numbers) -> tuple[int, int] | None:
    """The column and the bin after which to cut, where that gains anything."""
    best, chosen = 1e-6, None
    whole = slopes.sum() ** 2 / (curves.sum() + 1.0)
    for column, row in enumerate(bins):
        count = np.bincount(row, minlength=CUTS + 2).cumsum()[:-1]
        slope = np.bincount(row, slopes, CUTS + 2).cumsum()[:-1]
        curve = np.bincount(row, curves, CUTS + 2).cumsum()[:-1]
        rest = slopes.sum() - slope
        gain = slope**2 / (curve + 1.0) + rest**2 / (curves.sum() - curve + 1.0) - whole
        gain[(count < LEAST_LEAF) | (count > len(row) - LEAST_LEAF)] = 0.0
        cut = int(gain.argmax())
        if gain[cut] > best:
            best, chosen = float(gain[cut]), (column, cut)
    return chosen


def right_by_fold(phrases: Sequence[Phrase], labels: Sequence[int], judge: Judge) -> list[float]:
    """The share of phrases told right in each fold, both heaps weighing the same."""
    truth = np.array(labels, float)
    folds = _folds(phrases, labels)
    shares = []
    for fold in range(FOLDS):
        asked, known = np.flatnonzero(folds == fold), np.flatnonzero(folds != fold)
        margins = judge([phrases[n] for n in known], truth[known], [phrases[n] for n in asked])
        right = (margins > 0) == (truth[asked] > 0.5)
        heaps = [right[truth[asked] == label].mean() for label in (0, 1)]
        shares.append(float(np.mean(heaps)))
    return shares


def _folds(phrases: Sequence[Phrase], labels: Sequence[int]) -> Bins:
    """The fold of each phrase: sources of each heap, the largest first, to the smallest fold."""
    sizes: Counter[tuple[int, str]] = Counter(
        (label, phrase.source) for phrase, label in zip(phrases, labels, strict=True)
    )
    filled, fold_of = np.zeros((2, FOLDS)), {}
    for (label, source), size in sorted(sizes.items(), key=lambda item: (-item[1], item[0])):
        fold_of[label, source] = int(filled[label].argmin())
        filled[label, fold_of[label, source]] += size
    pairs = zip(labels, phrases, strict=True)
    return np.array([fold_of[label, phrase.source] for label, phrase in pairs])
