"""How much later is all sound in a take of the practice room than the page meant it, and always?

The page says when by its clock the recording began, bar 1 came and its chirps were played. How late
sound comes into the recording is another time at each connection of a microphone: the chirps tell
it, found again in the take. Where they tell two delays, or the page missed samples, or the band
does not lie in the take where they have it, the take jumps.

Conventions: seconds of the recording as its file has them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import ceil

from halfstep.data.about_json import TakeAbout
from halfstep.listen.backing_strays import Stray, backing_strays
from halfstep.listen.chirps import CHIRP_S, EARLIEST_S, LATEST_S, ChirpDelays, chirp_delays
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.kept_recording import KeptRecording
from halfstep.listen.take_notice import Trouble

USUAL_S = 0.1
"""A delay that most devices come near to, where nothing tells it."""
_NEAR_S = 0.03
"""So near to a chirp a note that begins is the chirp."""
_SAME_S = 0.004
"""Chirps and a backing that is in the take differ by less: each is right to two milliseconds."""
_OF_A_BACKING = {Trouble.BACKING_ABSENT, Trouble.BACKING_REPEATS}
"""What is said of a file that a player named: the room knows its band."""
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
    band_start_s : float or None
        Where bar 1 is in the band's own sound, as far as that is known.
    strays : tuple of Stray
        Parts of the take in which the band does not lie where the chirps have it.
    backing_start_s : float or None
        Where bar 1 begins by a backing that is in the take.
    """

    first_beat_s: float
    chirps_s: tuple[float, ...]
    chirps: ChirpDelays
    gaps: tuple[tuple[float, float], ...] = ()
    has_band: bool = True
    headphones: bool = False
    band_start_s: float | None = None
    strays: tuple[Stray, ...] = ()
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
        if self.strays:
            return True
        delay_s = self.chirps.delay_s
        if delay_s is None or self.backing_start_s is None:
            return False
        return abs(self.backing_start_s - self.first_beat_s - delay_s) > _SAME_S

    def beside(
        self, backing_start_s: float | None, take: KeptRecording, band: KeptRecording | None
    ) -> RoomDelay:
        """The same, with what a backing says that is in the take."""
        strays = self.strays
        start_s = self.band_start_s
        if self.chirps.delay_s is None and backing_start_s is not None and start_s is not None:
            strays = band_strays(take, band, backing_start_s - start_s)
        return replace(self, backing_start_s=backing_start_s, strays=strays)

    @property
    def jumps(self) -> tuple[str, ...]:
        """Where and by how much the recording jumps, in words."""
        return tuple(self._jumps())

    def _jumps(self) -> Iterator[str]:
        jump_s = self.chirps.jump_s
        lost = ", ".join(
            f"{1000 * length_s:.0f} ms at {at_s:.1f} s"
            for at_s, length_s in self.gaps
            if length_s > 0
        )
        if jump_s is not None:
            where = f" ({lost} were lost)" if lost else ""
            yield f"the recording jumps by {1000 * abs(jump_s):.0f} ms on its way{where}"
        elif self.strays:
            at_s, late_s = self.strays[0]
            yield f"the recording jumps by {1000 * abs(late_s):.0f} ms at about {at_s:.0f} s"
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

    def placed(self, take: HeardTake) -> HeardTake:
        """The take without its chirps, and with the delay of its band where that was open."""
        notices = (notice for notice in take.notices if notice.trouble not in _OF_A_BACKING)
        heard = replace(self.without_chirps(take), notices=tuple(notices))
        delays_s = tuple(self._delays_of_band(take))
        return replace(heard, delay_s=delays_s[0], delay_modulo_s=None) if delays_s else heard

    def _delays_of_band(self, take: HeardTake) -> Iterator[float]:
        """Where a band that sounds alike again and again lies, if it began when it was to begin."""
        if take.delay_s is None or take.delay_modulo_s is None or self.band_start_s is None:
            return
        first_s = (self.first_beat_s - self.band_start_s) / take.rate_ratio
        turns = ceil((first_s + EARLIEST_S - take.delay_s) / take.delay_modulo_s)
        delay_s = take.delay_s + turns * take.delay_modulo_s
        if delay_s <= first_s + LATEST_S < delay_s + take.delay_modulo_s:
            yield delay_s

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


def room_delay(
    take: KeptRecording,
    about: TakeAbout,
    band: KeptRecording | None = None,
    band_start_s: float | None = None,
) -> RoomDelay:
    """What is known of the delay in a take.

    Parameters
    ----------
    take : KeptRecording
    about : TakeAbout
    band : KeptRecording or None
        What was played to.
    band_start_s : float or None
        Where in it bar 1 is.

    Raises
    ------
    TakeError
        When it cannot be read.
    """
    chirps_s = tuple(sorted(at - about.begun_at for at in about.chirps_at))
    rate = max(1.0, about.sample_rate)
    chirps = chirp_delays(take, chirps_s)
    strays: tuple[Stray, ...] = ()
    if chirps.delay_s is not None and band_start_s is not None:
        strays = band_strays(take, band, about.first_beat_s + chirps.delay_s - band_start_s)
    return RoomDelay(
        about.first_beat_s,
        chirps_s,
        chirps,
        tuple((frame / rate, lost / rate) for frame, lost in about.gaps),
        has_band=bool(about.parts),
        headphones=about.headphones,
        band_start_s=band_start_s,
        strays=strays,
    )


def band_strays(take: KeptRecording, band: KeptRecording | None, lag_s: float) -> tuple[Stray, ...]:
    """Parts of a take in which the band does not begin so many seconds after the take."""
    return () if band is None else backing_strays(take.thin(), band.thin(), lag_s)
