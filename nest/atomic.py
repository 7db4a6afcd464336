"""Files and folders that appear whole or not at all.

What is being written lies beside its place under a name of its own, and is locked. A process that is killed leaves it
behind; the next that writes to the same place takes it away, once it can have the lock.
"""

import os
import re
import secrets
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from nest.errors import PlanProblem

try:
    import fcntl
except ImportError:  # not on this system: what a killed process leaves stays
    fcntl = None  # type: ignore[assignment]


@contextmanager
def atomic_path(path: str | os.PathLike[str], *, new: bool = False) -> Iterator[Path]:
    """Yield a path beside `path` to write to; it takes the place of `path` when the block ends well.

    The name to write to keeps the suffix, so that writers which look at it choose the same format.
    If the block raises, `path` stays as it was.

    new : whether `path` is not to be replaced, should somebody else have written it meanwhile.

    Raises
    ------
    PlanProblem
        If `path` is a folder or a link, or its folder does not exist.
    FileExistsError
        If it is to be `new`, and is there when the block has ended.
    """
    path = Path(path)
    check_file(path)
    for left in _left(path, path.suffix, Path.is_file):
        left.unlink(missing_ok=True)
    part = path.with_name(f"{_part_stem(path)}{secrets.token_hex(4)}.part{path.suffix}")
    with open(part, "xb") as stream:
        locked(stream.fileno())
        try:
            yield part
            _flush(part)
            (_put_new if new else os.replace)(part, path)
            _flush_folder(path.parent)
        finally:
            part.unlink(missing_ok=True)


def check_file(path: Path) -> None:
    """Raise what `atomic_path` would raise of a file that it may not put there."""
    _refuse_link(path, "file")
    if path.is_dir():
        raise PlanProblem(f"{path} is a folder; name a file to write to")
    if not path.parent.is_dir():
        raise PlanProblem(f"the folder {path.parent} does not exist; make it first")


def _put_new(part: Path, path: Path) -> None:
    """Give a file its name, if nobody else has it."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a disk without links: here the look and the step are two
        if os.path.lexists(path):
            raise FileExistsError(f"{path} is there") from None
        os.replace(part, path)


@contextmanager
def atomic_folder(target: str | os.PathLike[str], *, marker: str) -> Iterator[Path]:
    """Yield an empty folder beside `target` to fill; it becomes `target` when the block ends well.

    A folder already there is taken over only if it is empty or holds a file named `marker`, which says
    that an earlier run wrote it. That earlier folder is never changed nor deleted: it is renamed whole
    to `target.old-1`, or the next free number. If the block raises, nothing has changed.

    Raises
    ------
    PlanProblem
        If `target` is a file, a link, or a folder with other content; before anything is written.
    """
    target = Path(os.path.abspath(target))
    check_folder(target, marker=marker)
    target.parent.mkdir(parents=True, exist_ok=True)
    for left in _left(target, "", Path.is_dir):
        shutil.rmtree(left, ignore_errors=True)
    part = target.with_name(f"{_part_stem(target)}{secrets.token_hex(4)}.part")
    part.mkdir()
    try:
        with _held(part):
            yield part
            for folder in (part, *filter(Path.is_dir, part.rglob("*"))):
                _flush_folder(folder)
            _swap(part, target)
            _flush_folder(target.parent)
    finally:
        _take_away(part)


def _take_away(folder: Path) -> None:
    """Remove a folder with all in it; file by file where so few more can be opened that it cannot be walked through."""
    shutil.rmtree(folder, ignore_errors=True)
    if folder.exists():
        with suppress(OSError):
            for path in sorted(folder.rglob("*"), reverse=True):
                path.rmdir() if path.is_dir() else path.unlink()
            folder.rmdir()


def check_folder(target: str | os.PathLike[str], *, marker: str) -> None:
    """Raise what `atomic_folder` would raise of a target that it may not take over."""
    target = Path(os.path.abspath(target))
    _refuse_link(target, "folder")
    if target.exists() and not target.is_dir():
        raise PlanProblem(f"{target} is a file; name a folder to write to")
    if _holds_files(target) and not (target / marker).is_file():
        raise PlanProblem(f"the folder {target} holds files that no earlier run wrote; name a new or empty folder")


def parts_of(target: str | os.PathLike[str]) -> set[Path]:
    """Folders in which `atomic_folder` is filling this very target, or was when its process died."""
    return _parts(Path(os.path.abspath(target)), "", Path.is_dir)


def _parts(target: Path, suffix: str, is_one: Callable[[Path], bool]) -> set[Path]:
    name = re.compile(re.escape(_part_stem(target)) + r"[0-9a-f]{8}\.part" + re.escape(suffix))
    found = target.parent.iterdir() if target.parent.is_dir() else ()
    return {path for path in found if name.fullmatch(path.name) and is_one(path) and not path.is_symlink()}


def _left(target: Path, suffix: str, is_one: Callable[[Path], bool]) -> Iterator[Path]:
    """What a process that is no more was writing to this place."""
    if any(folder.suffix == ".part" for folder in target.parents):
        return  # a folder that is being filled is new, and looking through it for each of its files would take long
    for path in _parts(target, suffix, is_one):
        with suppress(OSError), _held(path) as free:
            if free:
                yield path


@contextmanager
def _held(path: Path) -> Iterator[bool]:
    """Hold the lock of a file or folder while the block runs; False if another process has it, or none can be had."""
    handle = os.open(path, os.O_RDONLY) if fcntl else -1
    try:
        yield handle >= 0 and locked(handle)
    finally:
        if handle >= 0:
            os.close(handle)


def held_elsewhere(handle: int) -> bool:
    """Take the lock of an open file, and say whether somebody else has it; never without locks on this system."""
    return fcntl is not None and not locked(handle)


def locked(handle: int) -> bool:
    """Take the lock of an open file, if it is free; the system gives it back when the process ends, however it does.

    Without locks on this system it is never had.
    """
    if fcntl is None:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _part_stem(target: Path) -> str:
    """How the name of a part of `target` begins: it shows whose part it is, and is short enough."""
    return f".{target.name[:50]}."


def _refuse_link(path: Path, what: str) -> None:
    """Nothing is written through a link: what it leads to may be somebody else's, and a rename would take its place."""
    if path.is_symlink():
        raise PlanProblem(f"{path} is a link to {os.readlink(path)}; name the {what} itself")


def _holds_files(folder: Path) -> bool:
    return folder.is_dir() and any(folder.iterdir())


def _swap(part: Path, target: Path) -> None:
    """Rename `part` to `target`; what stood there is renamed aside, and back if that fails."""
    if not target.exists():
        os.rename(part, target)
        return
    if not _holds_files(target):
        target.rmdir()
        os.rename(part, target)
        return
    number = 1
    # A link that leads nowhere has a name all the same.
    while os.path.lexists(aside := target.with_name(f"{target.name}.old-{number}")):
        number += 1
    os.rename(target, aside)
    try:
        os.rename(part, target)
    except OSError:
        os.rename(aside, target)
        raise


def _flush(file: Path) -> None:
    """Have the disk hold the file before its name does, so that a power cut leaves the old or the new one."""
    with open(file, "rb+") as stream:
        os.fsync(stream.fileno())


def _flush_folder(folder: Path) -> None:
    """Have the disk hold the names in a folder too, where the system lets a folder be opened."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
