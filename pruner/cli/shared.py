"""What several commands share: options, progress, hints. Imports nothing heavy."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Final, TextIO

import typer

from pruner.cli.text import filled, safe, shortened

SettingsOption = Annotated[Path, typer.Option("--settings", help="The settings file.", show_default=True)]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
SystemOption = Annotated[str, typer.Option(help="dmr, nxdn or p25.")]
DEFAULT_SETTINGS: Final = Path("pruner.toml")
_LINE: Final = 79


class ProgressLine:
    """One line on the terminal that names the stage and, on long work, rows and time left; silent anywhere else."""

    def __init__(self, stream: TextIO | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._given = stream
        self._clock = clock
        self._stage = ""
        self._began = self._shown = 0.0
        self._open = False

    @property
    def _stream(self) -> TextIO:
        return self._given or sys.stderr

    def __call__(self, stage: str, rows: int = 0, share: float = 0.0) -> None:
        """Shows a new stage at once, what is new of the same stage five times a second at most."""
        if not self._stream.isatty():
            return
        now = self._clock()
        if stage != self._stage:
            self.end()
            self._stage, self._began, self._shown = stage, now, 0.0
        elif now - self._shown < 0.2:
            return
        self._shown = now
        words = [f"  {safe(stage)}"]
        if rows:
            words.append(f"{rows:,} rows")
        if share > 0 and now - self._began > 1:
            words.append(f"{share:.0%}, about {_left((now - self._began) * (1 - share) / share)} left")
        print(f"\r{filled(shortened(' · '.join(words), _LINE), _LINE)}", end="", file=self._stream, flush=True)
        self._open = True

    def end(self) -> None:
        """Takes the line away."""
        if self._open:
            print(f"\r{'':<{_LINE}}\r", end="", file=self._stream, flush=True)
            self._open = False


def _left(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"


tell: Final = ProgressLine()


def is_conversation() -> bool:
    """Whether somebody sits there who can be asked: no stream is a pipe or a file."""
    return sys.stdin.isatty() and sys.stdout.isatty() and sys.stderr.isatty()


def hint(message: str) -> None:
    """What could be done next: on a terminal only."""
    tell.end()
    if sys.stderr.isatty():
        print(message, file=sys.stderr)
