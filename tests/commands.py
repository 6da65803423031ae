"""A command in this process, in a folder, with its output: what is tested is the command, not the start of a process."""

from __future__ import annotations

import contextlib
import io
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import pytest

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


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """`pruner ARGUMENTS` in the current folder: exit code and output, in which nothing steers a terminal."""
    code = guarded(arguments)
    out, err = capsys.readouterr()
    assert not re.search("[\\x00-\\x09\\x0b-\\x1f\\x7f-\\x9f\\u200b-\\u200f\\u2028-\\u202e\\u2066-\\u2069]", out + err)
    return int(code), out, err
