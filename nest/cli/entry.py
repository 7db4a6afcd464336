"""The entry point: runs a command and turns whatever happens into an exit code and, if need be, one clear sentence."""

import sys
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from typer.main import get_command

from geometry.precision import GeometryError
from nest.cli.app import app
from nest.cli.codes import Exit
from nest.cli.screen import Screen
from nest.cli.streams import lenient_streams
from nest.errors import NoRoom, VampYieldError


@dataclass(slots=True)
class Switches:
    """Options that stand before the command and hold for the whole run."""

    debug: bool = False


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line (by default that of the process) and return its exit code; see `nest.cli.codes.Exit`."""
    switches = Switches()
    with lenient_streams():
        return _run(arguments, switches)


@cache
def _commands() -> Any:
    """All commands, built once rather than at every call, which takes some 20 ms."""
    return get_command(app)


def _run(arguments: Sequence[str] | None, switches: Switches) -> int:
    """The exit code of a run, whatever happens in it."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    try:
        _commands()([*words[1:], "--help"] if words[:1] == ["help"] else words, prog_name="vampyield", obj=switches)
    except SystemExit as end:
        return int(end.code or Exit.DONE)
    except NoRoom as error:
        return _failed(f"{error}.", Exit.SHORT, switches)
    except VampYieldError as error:
        return _failed(str(error), Exit.BAD_INPUT, switches)
    except GeometryError as error:
        return _failed(f"An outline cannot be used: {error}.", Exit.BAD_INPUT, switches)
    except MemoryError:
        sentence = "There is too little memory free for this; close other programs, or split the job."
        return _failed(sentence, Exit.BAD_INPUT, switches)
    except Exception as error:
        # Libraries raise OSErrors of their own without a number: those are faults like any other.
        if isinstance(error, OSError) and error.errno is not None:
            name = f"{error.filename}: " if error.filename else ""
            sentence = f"{name}{error.strerror}; check the path, its rights and the room on the disk."
            return _failed(sentence, Exit.BAD_INPUT, switches)
        return _failed(
            f"A fault in the program ({type(error).__name__}: {error}). Please report it with the job or plan and "
            "what stands above when the command is run again as: vampyield --debug COMMAND ...",
            Exit.FAULT, switches,
        )
    return Exit.DONE


def _failed(sentence: str, code: Exit, switches: Switches) -> int:
    if switches.debug:
        traceback.print_exc()
    Screen().complain(sentence)
    return int(code)
