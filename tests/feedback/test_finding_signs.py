"""Which sign stands where on the staff of a take?"""

from __future__ import annotations

from dataclasses import replace

from halfstep.feedback.finding_signs import SIGN_WORDS, marked_staff, signed
from halfstep.feedback.findings import FindingKind
from halfstep.score import PlaceSign, SignShape
from told_takes import a_finding, a_take, every_finding, told


def signs(*findings: object) -> list[tuple[int, PlaceSign]]:
    """The signs on the staff, with the number of their bar in the score."""
    staff = marked_staff(told(*findings), title="take")
    return [(n, sign) for n, bar in enumerate(staff.score.bars, 1) for sign in bar.signs]


def test_every_kind_has_its_word() -> None:
    wordless = {kind for kind, word in SIGN_WORDS.items() if not word}
    assert set(SIGN_WORDS) == set(FindingKind)
    assert wordless == {FindingKind.CHANGE_HEARD, FindingKind.NOT_JUDGED}
    words = [word for word in SIGN_WORDS.values() if word]
    assert len(set(words)) == len(words)


def test_each_finding_has_one_sign_and_what_is_not_judged_has_none() -> None:
    findings = every_finding()
    assert len(signs(*findings)) == len(findings) - 1 == len(list(signed(findings)))


def test_a_sign_stands_in_the_bar_and_pass_of_its_finding() -> None:
    (place, sign), (later, _) = signs(
        a_finding(FindingKind.ADDED, 3), a_finding(FindingKind.ADDED, 3, 2)
    )
    assert (place, later) == (3, 11)
    assert sign.at == 0


def test_shapes_tell_what_is_to_be_mended_from_craft_and_changes_from_both() -> None:
    heard = FindingKind.CHANGE_HEARD
    of_each = signs(
        a_finding(heard, 1, fault=False),
        a_finding(heard, 2),
        a_finding(heard, 3, beats_late=-1.0),
        a_finding(FindingKind.CHANGE_MISSED, 4),
        a_finding(FindingKind.OLD_NOTE_KEPT, 5),
        a_finding(FindingKind.ENCLOSURE, 6),
    )
    assert [(sign.shape, sign.word) for _, sign in of_each] == [
        (SignShape.FULL, ""),
        (SignShape.HALF, "late"),
        (SignShape.HALF, "early"),
        (SignShape.EMPTY, "missed"),
        (SignShape.FRAMED, "E♭ → D"),
        (SignShape.DOTTED, "enclosure"),
    ]


def test_a_slip_is_drawn_as_it_was_played() -> None:
    """A bar is played twice: the second time everything is a bar behind the band."""
    take = a_take(step="scale", passes=1)
    late = [replace(note, sounded=note.sounded + 4) for note in take.notes if note.place >= 8]
    early = [note for note in take.notes if note.place < 8]
    slipped = replace(take, notes=(*early, *late))
    findings = (
        a_finding(FindingKind.FORM_SLIP, 3),
        a_finding(FindingKind.CHANGED, 3, time_s=take.clock.time_s(12.0)),
    )
    staff = marked_staff(told(*findings, take=slipped), title="take")
    bars = [[sign.word for sign in bar.signs] for bar in staff.score.bars]
    assert staff.lost == 0
    assert (bars[2], bars[3]) == (["other bar"], ["E♭ → D"])
    assert [note.pitch for note in staff.score.bars[2].notes] == [None]
