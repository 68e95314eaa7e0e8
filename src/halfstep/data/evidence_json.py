"""One time that a skill was played, as data, written and read."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from halfstep.practice.evidence import Evidence, Skill, Verdict


def evidence_data(evidence: Evidence) -> dict[str, Any]:
    """One time that a skill was played, as data."""
    return {
        "source": evidence.source,
        "at": evidence.at.isoformat(),
        **evidence.skill._asdict(),
        "tempo_bpm": evidence.tempo_bpm,
        "verdict": str(evidence.verdict),
        "weight": evidence.weight,
        "minutes": evidence.minutes,
        "trouble": evidence.trouble,
        "trouble_bar": evidence.trouble_bar,
        "progression": evidence.progression,
        "part": evidence.part,
    }


def read_evidence(data: dict[str, Any]) -> Evidence:
    """The evidence that was stored as data.

    Raises
    ------
    KeyError, TypeError, ValueError
        When it is none.
    """
    return Evidence(
        source=data["source"],
        at=datetime.fromisoformat(data["at"]),
        skill=read_skill(data),
        tempo_bpm=data["tempo_bpm"],
        verdict=Verdict(data["verdict"]),
        weight=data["weight"],
        minutes=data["minutes"],
        trouble=data["trouble"],
        trouble_bar=data["trouble_bar"],
        progression=data["progression"],
        part=data.get("part", 1.0),  # what was stored before bars were practised by themselves
    )


def read_skill(data: dict[str, Any]) -> Skill:
    """The skill that data name.

    Raises
    ------
    KeyError
    """
    return Skill(data["unit"], data["step"], data["key"])
