"""Tempi as they are typed."""

import pytest

from halfstep.errors import BriefError
from halfstep.lesson.tempo_ladder import tempo_ladder


@pytest.mark.parametrize(
    ("text", "tempi"),
    [
        ("120", (120,)),
        ("97.5", (97.5,)),
        ("80..100+5", (80, 85, 90, 95, 100)),
        ("80..99+5", (80, 85, 90, 95)),
        ("160..140-10", (160, 150, 140)),
        ("60%,80%,100%", (72, 96, 120)),
        ("60 % , 100 %", (72, 120)),
        ("72,60%,80..90+10", (72, 80, 90)),
        ("100..100+5", (100,)),
        ("33.4%", (40,)),
    ],
)
def test_tempi_are_read_in_their_order_and_once(text: str, tempi: tuple[float, ...]) -> None:
    assert tempo_ladder(text, 120) == tempi


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "give pulses a minute"),
        ("fast", "give pulses a minute"),
        ("80..160", "give pulses a minute"),
        ("80..160+0", "does not reach"),
        ("80..160-5", r"80 does not reach 160 in steps of -5"),
        ("39", "39 is too slow; give pulses a minute from 40 to 300"),
        ("80..301+221", "301 is too fast"),
        ("10%", "12 is too slow"),
        ("100,,120", "give pulses a minute"),
        ("40..300+1", "261 tempi; 60 are the most"),
        ("١٢٠", "give pulses a minute"),
    ],
)
def test_what_is_no_tempo_is_refused_in_one_line(text: str, fault: str) -> None:
    with pytest.raises(BriefError, match=f"tempi .*{fault}"):
        tempo_ladder(text, 120)
