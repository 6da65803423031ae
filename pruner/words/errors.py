"""The error tree: each error knows its exit code and speaks in one line per problem.

Modules raise these; only the command line turns them into text and an exit code.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum


class ExitCode(IntEnum):
    """What the process returns, the same for every command."""

    DONE = 0
    NOTHING_TO_DO = 1
    SETTINGS = 2
    INPUT_REFUSED = 3
    SOURCE_MISSING = 4
    LOCKED = 5
    OUR_FAULT = 70


class PrunerError(Exception):
    """A problem that the user can act on. `str(error)` holds one line per problem."""

    exit_code = ExitCode.OUR_FAULT


class SettingsError(PrunerError):
    """One or more mistakes in the settings or in the use of a command, all of them at once."""

    exit_code = ExitCode.SETTINGS

    def __init__(self, problems: Sequence[str] | str) -> None:
        self.problems = (problems,) if isinstance(problems, str) else tuple(problems)
        super().__init__("\n".join(self.problems))


class InputRefusedError(PrunerError):
    """A source was read but is not a usable directory (or list)."""

    exit_code = ExitCode.INPUT_REFUSED


class ColumnsError(InputRefusedError):
    """A table of which it is not clear which column holds what. How it can be said depends on whom it is said to: `str(error)`
    advises users of the command, `in_python` whoever calls the library."""

    def __init__(self, problem: str, by_command: str, in_python: str) -> None:
        self.in_python = f"{problem}; {in_python}"
        super().__init__(f"{problem}; {by_command}")


class NoRowsError(InputRefusedError):
    """A file was read and holds no row: beside other files of its source it is said and does no harm."""


class SourceMissingError(PrunerError):
    """A source could not be had at all."""

    exit_code = ExitCode.SOURCE_MISSING


class LockedError(PrunerError):
    """Another run holds the lock."""

    exit_code = ExitCode.LOCKED


class NothingToDoError(PrunerError):
    """The question was understood and the answer is: nothing."""

    exit_code = ExitCode.NOTHING_TO_DO
