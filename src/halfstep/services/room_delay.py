"""How much later is all sound in a take of the practice room than the page meant it, and always?

The page says when by its clock the recording began, bar 1 came and its chirps were played. How late
sound comes into the recording is another time at each connection of a microphone: the chirps tell
it, found again in the take. Where they tell two delays, or the page missed samples, the take jumps.

Conventions: seconds of the recording as its file has them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from halfstep.data.about_json import TakeAbout
from halfstep.listen.audio import Recording
from halfstep.listen.chirps import CHIRP_S, ChirpDelays, chirp_delays
from halfstep.listen.heard_take import HeardNote, HeardTake

USUAL_S = 0.1
"""A delay that most devices come near to, where nothing tells it."""
_NEAR_S = 0.03
"""So near to a chirp a note that begins is the chirp."""
_SAME_S = 0.004
"""Chirps and a backing that is in the take differ by less: each is right to two milliseconds."""
NOT_JUDGED = "whether you are early or late throughout is not judged"


@dataclass(frozen=True, slots=True)
class RoomDelay:
    """What is known of the delay in a take of the practice room.

    Attributes
    ----------
    first_beat_s : float
        Where bar 1 would begin without any delay.
    chirps_s : tuple of float
        Where its chirps would.
    chirps : ChirpDelays
    gaps : tuple of (float, float)
        Where the page missed samples, and for how long.
    has_band : bool
        Something sounded that was played to.
    headphones : bool
    backing_start_s : float or None
        Where bar 1 begins by a backing that is in the take.
    """

    first_beat_s: float
    chirps_s: tuple[float, ...]
    chirps: ChirpDelays
    gaps: tuple[tuple[float, float], ...] = ()
    has_band: bool = True
    headphones: bool = False
    backing_start_s: float | None = None

    @property
    def start_s(self) -> float | None:
        """Where bar 1 begins, to two milliseconds; None where that is not known for all of it."""
        delay_s = self.chirps.delay_s
        return None if delay_s is None or self._is_at_odds else self.first_beat_s + delay_s

    @property
    def likely_start_s(self) -> float:
        """Where it may begin: by a single chirp, or as late as is usual."""
        delays_s = (place.delay_s for place in self.chirps.places if place is not None)
        return self.first_beat_s + next(delays_s, USUAL_S)

    @property
    def _is_at_odds(self) -> bool:
        """True where a backing in the take lies elsewhere than its chirps have it."""
        delay_s = self.chirps.delay_s
        if delay_s is None or self.backing_start_s is None:
            return False
        return abs(self.backing_start_s - self.first_beat_s - delay_s) > _SAME_S

    def beside(self, backing_start_s: float | None) -> RoomDelay:
        """The same, with what a backing says that is in the take."""
        return replace(self, backing_start_s=backing_start_s)

    @property
    def jumps(self) -> tuple[str, ...]:
        """Where and by how much the recording jumps, in words."""
        return tuple(self._jumps())

    def _jumps(self) -> Iterator[str]:
        jump_s = self.chirps.jump_s
        lost = ", ".join(
            f"{1000 * length_s:.0f} ms at {at_s:.1f} s" for at_s, length_s in self.gaps
        )
        if jump_s is not None:
            where = f" ({lost} were lost)" if lost else ""
            yield f"the recording jumps by {1000 * abs(jump_s):.0f} ms on its way{where}"
        elif self._is_at_odds:
            yield "the recording jumps on its way: the band lies elsewhere than the chirps about it"
        elif lost and self.chirps.delay_s is None:
            yield f"the recording jumps: {lost} were lost"

    @property
    def reason(self) -> str:
        """Why early and late are not judged; empty where they are."""
        if self.start_s is not None or self.backing_start_s is not None:
            return ""
        if self.headphones:
            return f"with headphones nothing tells how late the recording is: {NOT_JUDGED}"
        return f"the chirps about the take are not both heard in it: {NOT_JUDGED}"

    def without_chirps(self, take: HeardTake) -> HeardTake:
        """The take without what was heard of the chirps themselves."""
        spans_s = [
            (at_s + place.delay_s - _NEAR_S, at_s + place.delay_s + CHIRP_S + _NEAR_S)
            for at_s, place in zip(self.chirps_s, self.chirps.places, strict=False)
            if place is not None
        ]
        notes = tuple(_outside(take, spans_s))
        return take if len(notes) == len(take.notes) else replace(take, notes=notes)


def _outside(take: HeardTake, spans_s: Iterable[tuple[float, float]]) -> Iterator[HeardNote]:
    """The notes that begin in none of some spans."""
    spans = list(spans_s)
    for note in take.notes:
        if not any(first <= take.file_s(note.onset_s) <= last for first, last in spans):
            yield note


def room_delay(take: Path, about: TakeAbout) -> RoomDelay:
    """What is known of the delay in a take.

    Raises
    ------
    TakeError
        When it cannot be read.
    """
    chirps_s = tuple(sorted(at - about.begun_at for at in about.chirps_at))
    rate = max(1.0, about.sample_rate)
    return RoomDelay(
        about.first_beat_s,
        chirps_s,
        chirp_delays(Recording(take), chirps_s),
        tuple((frame / rate, lost / rate) for frame, lost in about.gaps),
        has_band=bool(about.parts),
        headphones=about.headphones,
    )
