"""What came of a run: for the exit code, for people in a paragraph, for `schedule --status` in `<state>/last-run.json`."""

from __future__ import annotations

import contextlib
import datetime
import json
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from pruner.errors import ExitCode
from pruner.refresh.log import without_secrets
from pruner.report.switch import write_whole

LAST_RUN: Final = "last-run.json"
What = Literal["running", "published", "nothing changed", "failed"]


@dataclass(slots=True)
class Outcome:
    """What came of a run; times are UTC in ISO 8601.

    `result` is one sentence, `more` what is worth knowing; `kept_back` sources or logs that could not be had or were refused;
    `warnings` what did not work beside the run itself; `version` is the one that is published after it; `last_good` when a
    run last went as it should.
    """

    started: str
    what: What = "running"
    ended: str | None = None
    exit_code: int = ExitCode.DONE
    version: int | None = None
    result: str = ""
    more: list[str] = field(default_factory=list)
    kept_back: dict[str, str] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    last_good: str | None = None

    @property
    def good(self) -> bool:
        """Whether all went as it should."""
        return self.exit_code == ExitCode.DONE

    def paragraph(self) -> str:
        """All of it as one paragraph of plain sentences."""
        parts = [self.result, *self.kept_back.values(), *self.more]
        text = without_secrets(" ".join(part.rstrip(".") + "." for part in parts if part))
        return " ".join(text.encode(errors="backslashreplace").decode().split()) + "\n"

    def plain(self) -> dict[str, Any]:
        """As plain values for JSON."""
        return {"schema": 1, **asdict(self), "exit_code": int(self.exit_code)}


def now() -> str:
    """The wall clock, UTC, ISO 8601."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


def remember(outcome: Outcome, state: Path) -> None:
    """Writes what came of the run. A state that cannot be written must not hide how the run itself ended."""
    with contextlib.suppress(OSError):
        write_whole(state / LAST_RUN, without_secrets(json.dumps(outcome.plain(), indent=1)) + "\n")


def last_run(state: Path) -> dict[str, Any] | None:
    """What is known of the last run; None if there was none. `what` is "running" while it runs, and when it was killed."""
    try:
        known = json.loads((state / LAST_RUN).read_bytes())
        return known if isinstance(known, dict) and known["schema"] == 1 else None
    except (OSError, ValueError, KeyError):
        return None
