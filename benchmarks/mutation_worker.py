"""Test files run again and again without a new start: a process that has loaded the libraries and forks for each run.

Receives lines of JSON (arguments of pytest, seconds at most), hands on a line for each: the exit code, or null where the time
was over. Nothing of the project is loaded before the fork, so each run sees the files as they are then.
"""

from __future__ import annotations

import importlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

#: What the tests of the code that decides load; starting it takes longer than most of them.
LIBRARIES = ("pytest", "numpy", "polars", "pyarrow.parquet", "pyarrow.compute", "pydantic", "typer", "duckdb", "scipy.optimize")
_LOOK = 0.02


class Worker:
    """A process whose current folder is a copy of the project."""

    def __init__(self, project: Path) -> None:
        environment = {**os.environ, "PYTHONPATH": str(project), "POLARS_MAX_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        self.project = project
        self._process = subprocess.Popen(
            [sys.executable, "-m", "benchmarks.mutation_worker"],
            cwd=project,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def run(self, arguments: Sequence[str], longest: float | None) -> int | None:
        """The exit code of pytest, None where it took longer than so many seconds."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps([list(arguments), longest]) + "\n")
        self._process.stdin.flush()
        code: int | None = json.loads(self._process.stdout.readline())
        return code

    def close(self) -> None:
        """Ends the process."""
        self._process.communicate()


def _code_of(arguments: list[str], longest: float | None) -> int | None:
    child = os.fork()
    if not child:
        _become_a_run(arguments)
    ends = None if longest is None else time.monotonic() + longest
    while True:
        ended, status = os.waitpid(child, 0 if ends is None else os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        if ends is not None and time.monotonic() > ends:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return None
        time.sleep(_LOOK)


def _become_a_run(arguments: list[str]) -> None:
    code = 1
    try:
        os.setpgid(0, 0)
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in range(3):
            os.dup2(nowhere, stream)
        import pytest

        code = int(pytest.main(arguments))
    finally:
        os._exit(code)


def main() -> None:
    for name in LIBRARIES:
        importlib.import_module(name)
    for line in sys.stdin:
        arguments, longest = json.loads(line)
        print(json.dumps(_code_of(arguments, longest)), flush=True)


if __name__ == "__main__":
    main()
