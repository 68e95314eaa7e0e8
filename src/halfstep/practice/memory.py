"""When will a skill have faded? Its memory, kept by a spaced-repetition library, a review a day.

Source: the library ``fsrs`` 6 with its published parameters, without chance in its intervals
and without steps of minutes: what is wanted is tomorrow rather than later today. Clean counts
as good, nearly as hard, not yet as again.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

from halfstep.practice.evidence import Verdict

if TYPE_CHECKING:
    from fsrs import Card, Rating, Scheduler

DECAY = 0.1542
"""How a memory thins out: the last of the library's parameters; a power of time."""

SPREAD: float = 0.9 ** (-1 / DECAY) - 1  # so that after as many days as it is stable, 90 % are left


class Memory(NamedTuple):
    """How well a skill is kept.

    Attributes
    ----------
    stability_days : float
        After so many days the chance to have it still is 90 %.
    difficulty : float
        1 to 10.
    last : date
        The day of the last review.
    """

    stability_days: float
    difficulty: float
    last: date

    def share_left(self, day: date) -> float:
        """How much of it is left on that day, 0 to 1."""
        return share_left(max(0, (day - self.last).days), self.stability_days)


def share_left(days: float, stability_days: float) -> float:
    """How much of a memory is left after so many days, 0 to 1."""
    return float((1 + SPREAD * days / stability_days) ** -DECAY)


def days_until(share: float, stability_days: float) -> float:
    """After how many days that share of a memory is left."""
    return stability_days * float(share ** (-1 / DECAY) - 1) / SPREAD


def reviewed(memory: Memory | None, day: date, verdict: Verdict) -> Memory:
    """The memory after the skill was played on that day."""
    card, _ = _scheduler().review_card(_card(memory), _ratings()[verdict], _noon(day))
    assert card.stability is not None
    assert card.difficulty is not None
    return Memory(card.stability, card.difficulty, day)


def _card(memory: Memory | None) -> Card:
    from fsrs import Card, State

    if memory is None:
        return Card(card_id=1)
    stability, difficulty, last = memory
    return Card(
        card_id=1,
        state=State.Review,
        stability=stability,
        difficulty=difficulty,
        last_review=_noon(last),
    )


@lru_cache(maxsize=4096)
def _noon(day: date) -> datetime:
    """Days are counted by the calendar of the player, whatever the hour."""
    return datetime.combine(day, time(12), UTC)


@cache
def _scheduler() -> Scheduler:
    from fsrs import Scheduler

    return Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)


@cache
def _ratings() -> dict[Verdict, Rating]:
    from fsrs import Rating

    return {
        Verdict.CLEAN: Rating.Good,
        Verdict.NEARLY: Rating.Hard,
        Verdict.NOT_YET: Rating.Again,
    }
