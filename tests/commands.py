"""A command in this process, in a folder, with its output: what is tested is the command, not the start of a process."""

from __future__ import annotations

import contextlib
import io
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from pruner.cli.boundary import guarded


@dataclass(frozen=True)
class Ran:
    returncode: int
    stdout: str
    stderr: str


@contextlib.contextmanager
def _no_input() -> Iterator[None]:
    with Path(os.devnull).open() as nothing, mock.patch("sys.stdin", nothing):
        yield


def ran(folder: Path, *arguments: str) -> Ran:
    """`pruner ARGUMENTS` in that folder, standard input closed, the output in a pipe."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(folder), _no_input(), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = guarded(arguments)
    return Ran(int(code), out.getvalue(), err.getvalue())
