"""The one place where errors become text and exit codes.

Receives the arguments, hands on an exit code. Expected errors are one line each on standard error; an
interrupt is 130; anything else, panics of libraries included, writes a crash file and says where it lies.
"""

from __future__ import annotations

import errno
import io
import os
import sys
from collections.abc import Callable, Sequence
from functools import cache
from typing import Final

from pruner.cli.text import safe
from pruner.words.disk import PRIVATE, creating
from pruner.words.errors import ExitCode, PrunerError
from pruner.words.faults import described

_INTERRUPTED: Final = 130
_NOTHING_PUBLISHED: Final = "pruner: interrupted; what is published is whole"


def guarded(arguments: Sequence[str]) -> int:
    """Runs the command line and returns the exit code of the process."""
    from pruner.cli.shared import tell

    if sys.stdout is None:  # closed by the caller
        sys.stdout = open(os.devnull, "w")  # noqa: PTH123, SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        with creating(PRIVATE):
            result = _commands(arguments)(args=list(arguments), prog_name="pruner", standalone_mode=False)
        sys.stdout.flush()
        code = int(result) if isinstance(result, int) else ExitCode.DONE
        if code == _INTERRUPTED:
            print(_NOTHING_PUBLISHED, file=sys.stderr)
        return code
    except PrunerError as error:
        tell.end()
        for line in str(error).splitlines():
            print(f"pruner: {safe(line)}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        return _silenced(ExitCode.DONE)
    except UnicodeEncodeError:
        names = [word for word in arguments if any("\ud800" <= character <= "\udfff" for character in word)]
        print(f"pruner: {safe(names[0] if names else 'a name')}: not UTF-8; rename the file or folder", file=sys.stderr)
        return ExitCode.SETTINGS
    except KeyboardInterrupt:
        print(_NOTHING_PUBLISHED, file=sys.stderr)
        return _INTERRUPTED
    except Exception as error:
        if type(error).__name__ == "NoArgsIsHelpError" and hasattr(error, "format_message"):
            print(error.format_message(), file=sys.stderr)
            return ExitCode.SETTINGS
        if hasattr(error, "exit_code") and hasattr(error, "format_message"):
            command = getattr(getattr(error, "ctx", None), "command_path", "pruner")
            print(f"pruner: {safe(error.format_message())} (see: {safe(command)} --help)", file=sys.stderr)
            return ExitCode.SETTINGS
        if type(error).__name__ == "Abort":
            print(_NOTHING_PUBLISHED, file=sys.stderr)
            return _INTERRUPTED
        if isinstance(error, OSError) and error.errno == errno.ENOSPC and error.filename is None:
            print("pruner: the output cannot be written (no space left); make room and run again", file=sys.stderr)
            return _silenced(ExitCode.SETTINGS)
        if isinstance(error, SystemExit) or type(error).__name__ == "Exit":
            return int(getattr(error, "exit_code", ExitCode.OUR_FAULT))
        return _crash(error)
    except SystemExit:
        raise
    except BaseException as error:  # such as a panic of a library
        return _crash(error)


def _commands(arguments: Sequence[str]) -> Callable[..., object]:
    from pruner.cli.app import homes_of

    return _made(homes_of(arguments))


@cache
def _made(homes: tuple[str, ...]) -> Callable[..., object]:
    """The commands of some modules with their options, made once."""
    from typer.main import get_command

    from pruner.cli.app import commands

    return get_command(commands(homes))


def _silenced(code: ExitCode) -> ExitCode:
    """The code, with standard output turned away so that nothing more goes wrong when it is closed."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code


def _crash(error: BaseException) -> int:
    print(f"pruner: {safe(described(error))}; what is published is whole", file=sys.stderr)
    return ExitCode.OUR_FAULT
