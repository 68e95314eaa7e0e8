"""A copy of all that is kept, made while it is worked with; given back; and compared with it.

A copy is a folder: the database as it stood at one moment, the files that belong to it, and two
lists to compare with: `SHA256SUMS` has a digest of each file, as ``sha256sum --check`` reads it,
and `tables.json` one of each table's rows. The database is taken first: what is added meanwhile is
then in no row and does no harm, while a file that a row names is there.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Column, Connection, MetaData, Table, create_engine, select

from halfstep.data.documents import JsonForm, json_text, read_document
from halfstep.errors import BriefError, ReadError, StoreError
from halfstep.files import file_digest, flush, whole_folder
from halfstep.school.copied_tables import copy_rows, is_empty
from halfstep.school.data_folder import DATABASE_FILE, database_address, files_address
from halfstep.school.database import School
from halfstep.school.erasures import keep_place, write_marks
from halfstep.school.leaving import erase_again
from halfstep.school.schema_version import NEWEST
from halfstep.school.tables import metadata, sent_takes, sheets, takes

FORM = JsonForm("halfstep-backup", "a backup")
TABLES_FILE = "tables.json"
SUMS_FILE = "SHA256SUMS"
KEPT = 7
"""So many copies stand beside each other where nothing else is said."""
_NAME = re.compile(r"\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ")
_SCHEMAS = "alembic_version"
"""Which schema it is: another one after a copy of an earlier release is given back."""
_TRIES = 3
_SUM = re.compile(r"([0-9a-f]{64})  (.+)")

Told = Callable[[float, str], None]
"""Is told the share that is done, and what is done just now."""


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy.

    Attributes
    ----------
    folder : Path
    rows, files : int
        How many are in it.
    removed : tuple of Path
        Older copies that went.
    """

    folder: Path
    rows: int
    files: int
    removed: tuple[Path, ...] = ()


def back_up(school: School, place: Path, told: Told, *, keep: int = KEPT) -> Backup:
    """A new copy in a folder of copies, named by the time; the oldest go.

    Parameters
    ----------
    school : School
        May be worked with meanwhile.
    place : Path
        The folder of copies; not inside the school's own.
    told : callable
    keep : int
        How many copies stand then: what was erased goes with the last one that has it.

    Raises
    ------
    BriefError
        When there is no writing there.
    StoreError
        When something that is kept is gone from the disk.
    """
    if keep < 1:
        raise BriefError(f"`keep` {keep}: keep one copy or more")
    if place.resolve().is_relative_to(school.folder.resolve()):
        raise BriefError(f"`folder` {place}: give a place outside of {school.folder}")
    folder = place / f"{datetime.now(UTC):%Y-%m-%dT%H-%M-%SZ}"
    if folder.exists():
        raise BriefError(f"`folder`: {folder} is there already; wait a second")
    keep_place(school, place)
    with whole_folder(folder) as work:
        _copy_whole(school, work, told)
        sums = _sums(work, told)
        rows = _write_lists(work, sums)
    folder.chmod(0o700)
    flush(folder, place)
    write_marks(school)
    return Backup(folder, rows, len(sums), _remove_older(place, keep))


def _copy_whole(school: School, work: Path, told: Told) -> None:
    """Copy until each row has its files: meanwhile somebody may be erased.

    Raises
    ------
    StoreError
        When the same file is missing time and again.
    """
    missed = Counter[str]()
    while True:
        _copy(school, work, told)
        gone = sorted(_named_files(work / DATABASE_FILE) - _names_below(work))
        missed.update(gone)
        if not gone:
            return
        if missed[gone[0]] == _TRIES:
            raise StoreError(
                f"{school.name}: {gone[0]} is kept and is not there; is the disk well?"
            )


def _copy(school: School, work: Path, told: Told) -> None:
    """The database, and then the files."""
    for path in work.iterdir():
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    school.snapshot(work / DATABASE_FILE)
    names = [one.name for one in school.files.every_file()]
    for number, name in enumerate(names):
        told(number / len(names) / 2, "copying")
        target = work / name
        target.parent.mkdir(parents=True, exist_ok=True)
        # one that went meanwhile: whether a row names it is asked afterwards
        with suppress(FileNotFoundError):
            school.files.fetch(name, target)


def _named_files(database: Path) -> set[str]:
    """Files and folders of files that rows name, below the school's folder."""
    with _opened(database) as connection:
        recordings = connection.scalars(select(takes.c.file).union(select(sent_takes.c.file))).all()
        folders = connection.scalars(
            select(sent_takes.c.folder).union(select(sheets.c.folder))
        ).all()
    return {f"takes/{name}" for name in recordings if name} | {name for name in folders if name}


def _names_below(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}


def _remove_older(place: Path, keep: int) -> tuple[Path, ...]:
    copies = sorted(path for path in place.iterdir() if _NAME.fullmatch(path.name))
    removed = tuple(path for path in copies[:-keep] if (path / TABLES_FILE).is_file())
    for path in removed:
        shutil.rmtree(path)
    return removed


# The two lists


def _sums(folder: Path, told: Told) -> dict[str, str]:
    """The digest of each file, by its name below the folder."""
    lists = {folder / TABLES_FILE, folder / SUMS_FILE}
    paths = [path for path in sorted(folder.rglob("*")) if path.is_file() and path not in lists]
    names = [path.relative_to(folder).as_posix() for path in paths]
    return _digests(names, lambda name: file_digest(folder / name), told)


def _digests(names: Sequence[str], digest: Callable[[str], str], told: Told) -> dict[str, str]:
    sums = {}
    for number, name in enumerate(names):
        told(0.5 + number / len(names) / 2, "comparing")
        sums[name] = digest(name)
    return sums


def _write_lists(folder: Path, sums: dict[str, str]) -> int:
    """Write both; how many rows there are."""
    found = _tables_of(folder / DATABASE_FILE)
    tables = {name: {"rows": count, "sha256": digest} for name, (count, digest) in found.items()}
    made_at = datetime.now(UTC).isoformat(timespec="seconds")
    head = {**FORM.head, "made_at": made_at, "schema": NEWEST}
    folder.joinpath(TABLES_FILE).write_text(json_text({**head, "tables": tables}), "utf-8")
    lines = "".join(f"{digest}  {name}\n" for name, digest in sums.items())
    folder.joinpath(SUMS_FILE).write_text(lines, "utf-8")
    return sum(count for count, _ in found.values())


def _opened(database: Path) -> Connection:
    return create_engine(f"sqlite:///file:{database}?mode=ro&uri=true").connect()


def _tables_of(database: Path) -> dict[str, tuple[int, str]]:
    """How many rows each table has, and a digest of them in their order."""
    with _opened(database) as connection:
        return {table.name: _rows_of(connection, table) for table in _tables_in(connection)}


def _tables_in(connection: Connection) -> list[Table]:
    """The tables as they are there: a copy may be of an earlier release."""
    found = MetaData()
    found.reflect(connection)
    return [table for table in found.sorted_tables if table.name != _SCHEMAS]


def _rows_of(connection: Connection, table: Table) -> tuple[int, str]:
    """The rows of a table, in the columns that are named."""
    digest, count = hashlib.sha256(), 0
    query = select(table).order_by(*table.primary_key.columns)
    for row in connection.execute(query):
        digest.update(json.dumps(list(map(str, row)), ensure_ascii=True).encode() + b"\n")
        count += 1
    return count, digest.hexdigest()


# Comparing, and giving back


def faults_of_backup(folder: Path, told: Told) -> tuple[str, ...]:
    """What of a copy is not as it was made, a line each; empty where it is whole.

    Raises
    ------
    ReadError
        When it is no copy.
    """
    tables, noted = _noted_tables(folder), _noted_sums(folder)
    faults = [*_differing(noted, _sums(folder, told), "is missing", "was not there", "is damaged")]
    if DATABASE_FILE not in {line.partition(" ")[0] for line in faults}:
        now = _tables_of(folder / DATABASE_FILE)
        rows = {name: f"{count} {digest}" for name, (count, digest) in now.items()}
        faults += _differing(tables, rows, "has no rows now", "is new", "has other rows")
    return tuple(faults)


def _noted_sums(folder: Path) -> dict[str, str]:
    """How each file was.

    Raises
    ------
    ReadError
    """
    try:
        return dict(map(_noted_sum, folder.joinpath(SUMS_FILE).read_text("utf-8").splitlines()))
    except OSError as error:
        raise ReadError(f"{folder}: cannot read {SUMS_FILE}: {error.strerror}") from None


def _noted_sum(line: str) -> tuple[str, str]:
    found = _SUM.fullmatch(line)
    if found is None:
        raise ReadError(f"{SUMS_FILE}: this is no line of digests: {line[:60]}")
    return found[2], found[1]


def _noted_tables(folder: Path) -> dict[str, str]:
    """How the rows of each table were.

    Raises
    ------
    ReadError
    """
    file = folder / TABLES_FILE
    if not file.is_file():
        raise ReadError(f"{folder} is no backup: it has no {TABLES_FILE}")
    try:
        tables = read_document(file, FORM)["tables"]
        return {name: f"{one['rows']} {one['sha256']}" for name, one in tables.items()}
    except (KeyError, TypeError, AttributeError):
        raise ReadError(f"{file}: its `tables` are not as a backup has them") from None


def differences(folder: Path, school: School, told: Told) -> tuple[str, ...]:
    """What of a school is not as in a whole copy, row by row and file by file; a line each."""
    before = _noted_sums(folder)
    names = [one.name for one in school.files.every_file()]
    after = _digests(names, school.files.digest, told)
    before.pop(DATABASE_FILE, None)
    with _opened(folder / DATABASE_FILE) as copy, school.reading() as connection:
        changed = tuple(
            f"{table.name} has other rows"
            for table in _tables_in(copy)
            if _rows_of(copy, _as_kept(table)) != _rows_of(connection, _as_kept(table))
        )
    return (*_differing(before, after, "is not there", "is new", "is another"), *changed)


def _as_kept(table: Table) -> Table:
    """A table in the types that the program reads it in: a server keeps times otherwise."""
    kept = metadata.tables.get(table.name, table).columns
    columns = [
        Column(one.name, kept.get(one.name, one).type, primary_key=one.primary_key)
        for one in table.columns
    ]
    return Table(table.name, MetaData(), *columns)


def _differing(
    before: dict[str, str], after: dict[str, str], gone: str, new: str, other: str
) -> Iterator[str]:
    for name in sorted(before.keys() | after.keys()):
        if name not in after:
            yield f"{name} {gone}"
        elif name not in before:
            yield f"{name} {new}"
        elif before[name] != after[name]:
            yield f"{name} {other}"


def restore(folder: Path, data: Path, told: Told) -> tuple[str, ...]:
    """Give back what a copy has, into an empty folder; what of it is then not the same.

    Whoever was erased since is erased here as well, once it was compared: marks beside the copy
    say who.

    Raises
    ------
    ReadError
        When the copy is none, or is damaged.
    BriefError
        When the folder has something in it, or there is no writing.
    """
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise BriefError(f"`data` {data} is not empty; give the name of a new folder")
    faults = faults_of_backup(folder, told)
    if faults:
        more = f", and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise ReadError(f"{folder} is not whole: {faults[0]}{more}")
    address = database_address()
    has_store = False
    if address:
        with School(data, address) as school, school.reading() as connection:
            if not is_empty(connection):
                raise BriefError(f"{school.name} has something in it; give an empty database")
            if any(True for _ in school.files.every_file()):
                raise BriefError(f"{files_address()} has something in it; give an empty folder")
            has_store = school.files.path_here(DATABASE_FILE) is None
    with whole_folder(data) as work:
        _lay_out(folder, work, is_whole=not has_store)
    data.chmod(0o700)
    with School(data, address) as school:
        if has_store:
            _move_files(folder, school)
        if address:
            _move_rows(data, school)
        different = differences(folder, school, told)
        erase_again(school, folder.resolve().parent)
        return different


def _lay_out(folder: Path, work: Path, *, is_whole: bool) -> None:
    """Copy what belongs into a data folder: all, or the rows alone."""
    if not is_whole:
        shutil.copyfile(folder / DATABASE_FILE, work / DATABASE_FILE)
        return
    shutil.copytree(folder, work, dirs_exist_ok=True)
    for name in (TABLES_FILE, SUMS_FILE):
        work.joinpath(name).unlink()


def _move_files(folder: Path, school: School) -> None:
    """Put the files of a copy where the school has its own."""
    for name in _noted_sums(folder):
        if name != DATABASE_FILE:
            school.files.put(name, folder / name)


def _move_rows(data: Path, server: School) -> None:
    """Bring the rows of a folder's own database to a server."""
    with (
        School(data, "") as file,
        file.reading() as source,
        server.writing() as target,
    ):
        copy_rows(source, target)
    data.joinpath(DATABASE_FILE).unlink()
