"""Does a server say that it is there, and whether it can work?"""

from __future__ import annotations

from desks import Desk

from halfstep.school.data_folder import DATABASE_FILE


def test_a_server_that_can_work_says_so_to_anybody(desk: Desk) -> None:
    for path, said in (("/health", "well"), ("/ready", "ready")):
        answer = desk.visitor().get(path)
        assert (answer.status_code, answer.text) == (200, said)


def test_a_server_whose_database_is_gone_is_there_and_cannot_work(desk: Desk) -> None:
    browser = desk.visitor()
    for file in desk.school.folder.glob(f"{DATABASE_FILE}*"):
        file.unlink()
    desk.school.folder.joinpath(DATABASE_FILE).write_bytes(b"no database" * 1000)
    desk.school.__exit__()  # what was open is not asked any more
    assert browser.get("/health").status_code == 200
    answer = browser.get("/ready")
    assert answer.status_code == 503
    assert len(answer.text.splitlines()) == 1
