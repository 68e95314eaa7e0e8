"""What comes of a request that nobody waits for? Files in a folder, and what should be said.

A row of `_MAKERS` says for each request how it is carried out and which files it makes. A request
that names a folder of its own gets the one that is meant here in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from halfstep.data.documents import json_text
from halfstep.files import whole_folder
from halfstep.services.check_course import CheckCourse, check_course
from halfstep.services.edit_line import EditLine, edit_line
from halfstep.services.etude_reply import KEYS_SUFFIXES, EtudeReply
from halfstep.services.explain_chart import MAP_SUFFIXES, ExplainChart, explain_chart
from halfstep.services.file_content import FileContent
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.hear_take import HearTake, hear_take
from halfstep.services.line_versions import LineVersions, line_versions
from halfstep.services.list_sounds import ListSounds, list_sounds
from halfstep.services.make_backing import MakeBacking, make_backing
from halfstep.services.make_film import MakeFilm, make_film
from halfstep.services.make_lesson import MakeLesson, make_lesson
from halfstep.services.make_plan import MakePlan, make_plan
from halfstep.services.make_running_order import MakeRunningOrder, make_running_order
from halfstep.services.outline_line import OutlineLine, outline_line
from halfstep.services.read_chart import ReadChart, read_chart
from halfstep.services.request_fields import FileMade, Progress, nobody_asks
from halfstep.services.show_course import COURSE_MAP_SUFFIXES, ShowCourse, show_course
from halfstep.services.show_progress import PROGRESS_SUFFIXES, ShowProgress, show_progress
from halfstep.services.stored_requests import Request
from halfstep.services.take_reply import TakeReply
from halfstep.services.write_etude import WriteEtude, write_one_etude

ETUDE_SUFFIXES = (".json", ".pdf", ".musicxml", ".mid", ".m4a")
"""An etude as data, on paper, for other programs, and to be heard."""
_HEARING_SHARE = 0.8
"""Of the time that feedback takes."""


@dataclass(frozen=True, slots=True)
class RequestFiles:
    """What was made of a request.

    Attributes
    ----------
    names : tuple of str
        Of its files, in the order in which a teacher would open them.
    notices : tuple of str
        What was not certain, or not as asked.
    """

    names: tuple[str, ...]
    notices: tuple[str, ...] = ()


def make_files(
    request: Request, folder: Path, *, progress: Progress, made: FileMade = nobody_asks
) -> RequestFiles:
    """Carry out a request, and write all its files into a folder, or none.

    Parameters
    ----------
    request : Request
    folder : Path
    progress : callable
    made : callable
        Given each file of feedback before the others are made; what is heard stands in the first.

    Raises
    ------
    ReadError, TakeError, BriefError, MissingExtra
        As the request itself.
    """
    if isinstance(request, GiveFeedback):
        return _feedback(request, folder, progress, made)
    return _MAKERS[type(request)](request, folder, progress)


def with_files_below(request: Request, folder: Path) -> Request:
    """The request, names of files that do not begin at the root taken from a folder."""
    changed: dict[str, Any] = {name: folder / path for name, path in _paths_below(request)}
    return replace(request, **changed)


def files_below(request: Request) -> tuple[Path, ...]:
    """The names of files in a request that do not begin at the root."""
    return tuple(path for _, path in _paths_below(request))


def _paths_below(request: Request) -> Iterator[tuple[str, Path]]:
    """The fields of a request that name files that do not begin at the root."""
    for field in fields(request):
        value = getattr(request, field.name)
        if isinstance(value, Path) and not value.is_absolute():
            yield field.name, value


def _written(folder: Path, contents: Mapping[str, bytes]) -> tuple[str, ...]:
    with whole_folder(folder) as work:
        for name, content in contents.items():
            (work / name).write_bytes(content)
    return tuple(contents)


def _contents(stem: str, files: Mapping[str, FileContent]) -> Iterator[tuple[str, bytes]]:
    """Every page of files by suffix, as a file of its own."""
    for suffix, content in files.items():
        for number, page in enumerate(content.pages, start=1):
            yield f"{stem}{f'-{number}' * (number > 1)}{suffix}", page


def _of_suffixes(
    folder: Path, stem: str, files: Mapping[str, FileContent], notices: tuple[str, ...]
) -> RequestFiles:
    names = _written(folder, dict(_contents(stem, files)))
    said = (notice for content in files.values() for notice in content.notices)
    return RequestFiles(names, tuple(dict.fromkeys((*notices, *said))))


def _data(data: dict[str, Any]) -> FileContent:
    return FileContent((json_text(data).encode(),))


def _etude(request: WriteEtude, folder: Path, progress: Progress) -> RequestFiles:
    reply = write_one_etude(request)
    return _of_suffixes(folder, "etude", dict(_etude_files(reply, progress)), reply.notices)


def _line(request: EditLine, folder: Path, progress: Progress) -> RequestFiles:
    reply = edit_line(request)
    files = dict(_etude_files(reply.written, progress))
    return _of_suffixes(folder, "etude", files, (reply.refused,) * bool(reply.refused))


def _versions(request: LineVersions, folder: Path, _: Progress) -> RequestFiles:
    replies = line_versions(request)
    contents = {f"version-{n}.json": reply.data().encode() for n, reply in enumerate(replies, 1)}
    return RequestFiles(_written(folder, contents))


def _etude_files(reply: EtudeReply, progress: Progress) -> Iterator[tuple[str, FileContent]]:
    suffixes = KEYS_SUFFIXES[:1] if reply.all_keys else ETUDE_SUFFIXES
    for number, suffix in enumerate(suffixes):
        progress((number + 0.5) / len(suffixes), "writing the etude")
        yield suffix, reply.file(suffix)


def _take(request: HearTake, folder: Path, progress: Progress) -> RequestFiles:
    reply = hear_take(request, progress=progress)
    files = {suffix: reply.file(suffix) for suffix in _take_suffixes(reply)}
    return _of_suffixes(folder, "take", files, reply.notices)


def _take_suffixes(reply: TakeReply) -> tuple[str, ...]:
    """Those that what was heard can be written in."""
    if not reply.written.take.notes:
        return (".json",)
    return (".json", ".mid", *((".pdf", ".musicxml") if reply.tempo_bpm else ()))


def _feedback(
    request: GiveFeedback, folder: Path, progress: Progress, made: FileMade = nobody_asks
) -> RequestFiles:
    reply = give_feedback(request, progress=_part(progress, 0.0, _HEARING_SHARE))
    paths = reply.write(folder, progress=_part(progress, _HEARING_SHARE, 1.0), made=made)
    return RequestFiles(tuple(path.name for path in paths), reply.notices)


def _part(progress: Progress, low: float, high: float) -> Progress:
    """Progress of a part of the work, as that of the whole."""
    return lambda share, work: progress(low + (high - low) * share, work)


def _lesson(request: MakeLesson, folder: Path, progress: Progress) -> RequestFiles:
    reply = make_lesson(replace(request, folder=folder), processes=1, progress=progress)
    return RequestFiles(tuple(path.name for path in reply.files), reply.notices)


def _backing(request: MakeBacking, folder: Path, progress: Progress) -> RequestFiles:
    reply = make_backing(replace(request, folder=folder), progress=progress)
    return RequestFiles(tuple(path.name for path in reply.files), reply.notices)


def _film(request: MakeFilm, folder: Path, progress: Progress) -> RequestFiles:
    reply = make_film(request, progress=progress)
    with whole_folder(folder) as work:
        written = reply.write(work / f"film{reply.suffixes[0]}", progress=progress)
    return RequestFiles(tuple(path.name for path in written.paths), written.notices)


def _order(request: MakeRunningOrder, folder: Path, progress: Progress) -> RequestFiles:
    paths = make_running_order(request).write(folder, progress=progress)
    return RequestFiles(tuple(path.name for path in paths), ())


def _plan(request: MakePlan, folder: Path, progress: Progress) -> RequestFiles:
    reply = make_plan(request)
    paths = reply.write(folder, progress=progress)
    return RequestFiles(tuple(path.name for path in paths), reply.notices)


def _chart(request: ReadChart, folder: Path, _: Progress) -> RequestFiles:
    reply = read_chart(request)
    return _of_suffixes(folder, "chart", {".pdf": reply.picture(".pdf")}, reply.notices)


def _changes(request: ExplainChart, folder: Path, _: Progress) -> RequestFiles:
    reply = explain_chart(request)
    maps = {suffix: reply.map_file(suffix) for suffix in MAP_SUFFIXES}
    return _of_suffixes(folder, "changes", {".json": _data(reply.data()), **maps}, reply.notices)


def _outline(request: OutlineLine, folder: Path, _: Progress) -> RequestFiles:
    reply = outline_line(request)
    return _of_suffixes(folder, "outline", {".json": _data(reply.data())}, reply.notices)


def _course(request: ShowCourse, folder: Path, _: Progress) -> RequestFiles:
    reply = show_course(request)
    maps = {suffix: reply.map_file(suffix) for suffix in COURSE_MAP_SUFFIXES}
    return _of_suffixes(folder, "course", {".json": _data(reply.data()), **maps}, ())


def _progress(request: ShowProgress, folder: Path, _: Progress) -> RequestFiles:
    reply = show_progress(request)
    files = {suffix: FileContent((reply.file(suffix),)) for suffix in PROGRESS_SUFFIXES}
    return _of_suffixes(folder, "progress", files, ())


def _faults(request: CheckCourse, _folder: Path, _: Progress) -> RequestFiles:
    return RequestFiles((), tuple(map(str, check_course(request).faults)))


def _sounds(request: ListSounds, _folder: Path, _: Progress) -> RequestFiles:
    reply = list_sounds(request)
    return RequestFiles((), tuple(bank.path.name for bank in (reply.used, *reply.others)))


_MAKERS: dict[type[Request], Callable[[Any, Path, Progress], RequestFiles]] = {
    ReadChart: _chart,
    ExplainChart: _changes,
    WriteEtude: _etude,
    EditLine: _line,
    LineVersions: _versions,
    MakeLesson: _lesson,
    MakeBacking: _backing,
    MakeFilm: _film,
    MakeRunningOrder: _order,
    HearTake: _take,
    GiveFeedback: _feedback,
    OutlineLine: _outline,
    ListSounds: _sounds,
    ShowCourse: _course,
    CheckCourse: _faults,
    MakePlan: _plan,
    ShowProgress: _progress,
}
