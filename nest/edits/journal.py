"""A history in a file: a line for each step, on the disk before the step counts.

The first line names the plan that it begins with. A process that is killed leaves the last line whole or cut short; a
line that is cut short, or does not match its check sum, ends the journal, and the state is that of the line before.
"""

import json
import os
import zlib
from pathlib import Path

from nest.atomic import held_elsewhere
from nest.edits.commands import EditProblem, SearchCommand, Step, command_data, command_of
from nest.edits.history import History, played
from nest.edits.state import State
from nest.errors import VampYieldError
from nest.limits import LARGEST_PLAN_BYTES, MOST_PLAN_VALUES
from nest.plainfile import BadJson, NotPlain, check_plain, parsed_json, read_plain, reason_of
from nest.plan import Plan
from nest.planfile import plan_text

FORMAT = "vampyield edits 1"
_SUM_DIGITS = 8


def plan_sum(plan: Plan) -> str:
    """A check sum of a plan, which tells whether a journal belongs to it."""
    return f"{zlib.crc32(plan_text(plan).encode('utf-8')):08x}"


class Journal:
    """A file that grows by a line with every step; opened by one at a time.

    steps : how many it holds.
    """

    def __init__(self, path: Path, plan: Plan):
        """Open the journal of `plan`, or begin it.

        Raises
        ------
        EditProblem
            If the file is another plan's, none of ours, open elsewhere, or cannot be written.
        """
        self.path = Path(path)
        _check(self.path)
        self.history, self.steps, good = History.of(State(plan)), 0, 0
        # Without a buffer: what could not be written would wait there, and be written with the next step.
        self._stream = open(self.path, "a+b", buffering=0)  # noqa: SIM115
        if held_elsewhere(self._stream.fileno()):
            self._stream.close()
            raise EditProblem(f"{self.path} is open at another desk; close that one first.")
        try:
            if self.path.stat().st_size:
                self.history, self.steps, good = _read(self.path, plan)
            self._good = good
            self._cut_back()
            if not good:
                self._write({"format": FORMAT, "plan": plan_sum(plan)})
        except BaseException:
            self._stream.close()
            raise

    def add(self, history: History, step: Step) -> None:
        """Note a step that led to `history`; when this returns it is on the disk.

        Raises
        ------
        EditProblem
            If the file is full or cannot be written; then the step does not count, and the next may be tried.
        """
        self._write(command_data(step))
        self.history, self.steps = history, self.steps + 1

    def close(self) -> None:
        """Give the file back."""
        self._stream.close()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *error) -> None:
        self.close()

    def _write(self, data: dict) -> None:
        line = json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
        line = b"%08x %s\n" % (zlib.crc32(line), line)
        if self._good + len(line) > LARGEST_PLAN_BYTES:
            raise EditProblem(f"{self.path} is full; write files, and open the desk on their folder.")
        if self._stream.closed:
            raise EditProblem(f"{self.path} could not be written before; mend the disk, and open the desk again.")
        try:
            left = memoryview(line)
            while left:
                left = left[self._stream.write(left):]
            os.fsync(self._stream.fileno())
        except BaseException as error:
            self._cut_back()
            if isinstance(error, OSError):
                words = f"{self.path} cannot be written ({reason_of(error)}); see to the disk, and try again."
                raise EditProblem(words) from error
            raise
        self._good += len(line)

    def _cut_back(self) -> None:
        """Take away what stands behind the last whole line, or what follows it would be lost when the file is read."""
        try:
            self._stream.truncate(self._good)
        except OSError as error:
            self._stream.close()
            words = f"{self.path} cannot be written ({reason_of(error)}); see to the disk, and open the desk again."
            raise EditProblem(words) from error


def _check(path: Path) -> None:
    """Refuse what is no plain file before it is opened to be written: a pipe waits, a link leads anywhere."""
    if path.is_symlink():
        raise EditProblem(f"{path} is a link to {os.readlink(path)}; move it away.")
    if path.exists():
        try:
            check_plain(path, LARGEST_PLAN_BYTES)
        except NotPlain as found:
            raise EditProblem(f"{path}: expected a journal of edits, found {found}; move it away.") from found


def _read(path: Path, plan: Plan) -> tuple[History, int, int]:
    """The history in a journal, how many steps led to it, and how many bytes of it are whole."""
    try:
        data = read_plain(path, LARGEST_PLAN_BYTES)
    except NotPlain as found:
        raise EditProblem(f"{path}: expected a journal of edits, found {found}; move it away.") from found
    history, steps, good = History.of(State(plan)), 0, 0
    for number, line in enumerate(data.splitlines(keepends=True), start=1):
        body = line[_SUM_DIGITS + 1 : -1]
        if not line.endswith(b"\n") or line[: _SUM_DIGITS + 1] != b"%08x " % zlib.crc32(body):
            break
        try:
            said = parsed_json(body.decode("utf-8"), MOST_PLAN_VALUES)
        except (BadJson, UnicodeDecodeError):
            break
        if number == 1:
            if said != {"format": FORMAT, "plan": plan_sum(plan)}:
                raise EditProblem(f"{path} is the journal of another plan; move it away.")
        else:
            try:
                history, _ = played(history, command_of(said, f"{path}, line {number}"), _no_search)
                steps += 1
            except VampYieldError as error:
                raise EditProblem(f"{path}, line {number}: the step cannot be done again ({error})") from error
        good += len(line)
    if not good and data:
        raise EditProblem(f"{path} is no journal of edits; move it away.")
    return history, steps, good


def _no_search(state: State, command: SearchCommand):
    raise EditProblem("a search is kept as the layouts it came to.")
