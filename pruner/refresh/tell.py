"""Who is told of a run: addresses that are asked, a program, a file. None of them can make the run fail.

Receives `[refresh.tell]`, a subject and a message, hands on warnings, one line each, that show no address beyond its host.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Final, Literal

from pruner.refresh.log import RunLog
from pruner.settings.refresh_models import Tell
from pruner.sources.ping import host_of, ping
from pruner.sources.request import FailedError
from pruner.words.disk import found_umask, write_whole
from pruner.words.process import as_it_was

Moment = Literal["start", "success", "failure"]
PING_SECONDS: Final = 10.0
COMMAND_SECONDS: Final = 60.0
#: What stands for the subject in the arguments of the program.
SUBJECT: Final = "{subject}"


def ping_for(moment: Moment, tell: Tell, log: RunLog, *, ask: Callable[..., None] = ping) -> list[str]:
    """Asks the address of a moment, if there is one. Returns a warning when it did not answer well."""
    address = getattr(tell, moment)
    if address is None:
        return []
    try:
        ask(address, deadline_seconds=PING_SECONDS)
    except FailedError as error:
        return _warned(log, f"tell.{moment}: {host_of(address)} {error}")
    except Exception as error:  # whatever is wrong with a sign of life, the run itself is well
        return _warned(log, f"tell.{moment}: {host_of(address)} could not be asked ({type(error).__name__})")
    log.event("told", whom=moment)
    return []


def hand_over(subject: str, text: str, tell: Tell, log: RunLog, *, seconds: float = COMMAND_SECONDS) -> list[str]:
    """Gives a message to the program and to the file, and its subject to the program where its arguments have a place for it.

    Returns warnings."""
    warnings = []
    if tell.command is not None:
        command = tuple(argument.replace(SUBJECT, subject) for argument in tell.command)
        warnings += _run(command, text, log, seconds)
    if tell.file is not None:
        warnings += _write(tell.file, text, log)
    return warnings


def _run(command: tuple[str, ...], text: str, log: RunLog, seconds: float) -> list[str]:
    program = Path(command[0]).name
    as_it_was()
    try:
        # A session of its own, so that what the program has started ends with it.
        process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            umask=found_umask(),
        )
    except (OSError, ValueError) as error:
        return _warned(log, f"tell.command: {program} cannot be run ({getattr(error, 'strerror', None) or 'bad argument'})")
    try:
        process.communicate(text.encode(), timeout=seconds)
    except subprocess.TimeoutExpired:
        _end(process)
        _close(process)
        return _warned(log, f"tell.command: {program} did not end within {seconds:g} s and was ended")
    if process.returncode:
        return _warned(log, f"tell.command: {program} ended with {process.returncode}")
    log.event("told", whom="command")
    return []


def _end(process: subprocess.Popen[bytes]) -> None:
    """Ends a program and what it has started, as far as the system tells them."""
    with contextlib.suppress(ProcessLookupError):
        if hasattr(os, "killpg"):
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()


def _close(process: subprocess.Popen[bytes]) -> None:
    """Ends the pipe to a program that was ended; what it did not read is lost."""
    if process.stdin is not None:
        with contextlib.suppress(OSError):
            process.stdin.close()
    process.wait()


def _write(path: Path, text: str, log: RunLog) -> list[str]:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text, of_user=True)
    except OSError as error:
        return _warned(log, f"tell.file: {path}: cannot be written ({error.strerror})")
    log.event("told", whom="file")
    return []


def _warned(log: RunLog, warning: str) -> list[str]:
    log.event("warning", text=warning)
    return [warning]
