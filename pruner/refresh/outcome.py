"""What came of a run: for the exit code, for people in a message, for `schedule --status` in `<state>/last-run.json`.

Receives what happened, hands on texts. What came of it stands first in each: OK, REFUSED (last good used) or FAILED.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import socket
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final, Literal

from pydantic import Field

from pruner.account.parts import Moment, Part, ReadOnly, no_table
from pruner.refresh.log import without_secrets
from pruner.words.disk import write_whole
from pruner.words.errors import ExitCode

LAST_RUN: Final = "last-run.json"
What = Literal["running", "published", "nothing changed", "failed"]
OK: Final = "OK"
REFUSED: Final = "REFUSED (last good used)"
FAILED: Final = "FAILED"


def host_name() -> str:
    """The name of this machine, in printable characters."""
    return "".join(character if character.isprintable() else "?" for character in socket.gethostname()) or "unknown host"


def verdict(what: str, exit_code: int) -> str:
    """`OK`, `REFUSED` or `FAILED`, of a run that has ended."""
    if not exit_code:
        return OK
    return FAILED if what == "failed" else REFUSED


def headline(word: str, moment: str, host: str) -> str:
    """The first line of every message and its subject; `moment` is UTC in ISO 8601."""
    return f"{word}: pruner refresh on {host or 'unknown host'}, {moment_text(moment)}"


def moment_text(moment: str) -> str:
    """A moment (UTC in ISO 8601) as people read it, to the minute."""
    return f"{moment[:16].replace('T', ' ')} UTC"


@dataclass(slots=True)
class Outcome:
    """What came of a run on the machine `host`; times are UTC in ISO 8601.

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
    host: str = field(default_factory=host_name)

    @property
    def headline(self) -> str:
        """What came of it, where and when: the subject of a message."""
        return headline(verdict(self.what, self.exit_code), self.ended or self.started, self.host)

    @property
    def good(self) -> bool:
        """Whether all went as it should."""
        return self.exit_code == ExitCode.DONE

    def message(self) -> str:
        """The headline, then all of it as one paragraph of plain sentences: what was kept back before what went well."""
        parts = [*self.kept_back.values(), self.result, *self.more]
        text = without_secrets(" ".join(part.rstrip(".") + "." for part in parts if part))
        return f"{self.headline}\n{' '.join(text.encode(errors='backslashreplace').decode().split())}\n"

    def plain(self) -> dict[str, object]:
        """As plain values for JSON."""
        ended = {} if self.what == "running" else {"outcome": verdict(self.what, self.exit_code)}
        return {"schema": 1, **ended, **asdict(self), "exit_code": int(self.exit_code)}


def now() -> str:
    """The wall clock, UTC, ISO 8601."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")


def remember(outcome: Outcome, state: Path) -> None:
    """Writes what came of the run. A state that cannot be written must not hide how the run itself ended."""
    with contextlib.suppress(OSError):
        write_whole(state / LAST_RUN, without_secrets(json.dumps(outcome.plain(), indent=1)) + "\n")


class LastRun(Part):
    """What `remember` wrote: an `Outcome`, and in `outcome` its verdict once it has ended. `what` is "running" while it runs,
    and when it was killed."""

    schema_: Literal[1] = Field(alias="schema")
    outcome: str | None = None
    started: Moment
    what: What
    ended: Moment | None = None
    exit_code: int
    version: int | None = None
    result: str = ""
    more: tuple[str, ...] = ()
    kept_back: ReadOnly[str] = Field(default_factory=no_table)
    warnings: tuple[str, ...] = ()
    last_good: str | None = None
    host: str = "this machine"

    def document(self) -> dict[str, object]:
        """The record as a table of JSON."""
        return self.model_dump(mode="json", by_alias=True, exclude_unset=True)


def last_run(state: Path) -> LastRun | None:
    """What is known of the last run; None if there was none, or what is written of it cannot be understood."""
    try:
        return LastRun.model_validate_json((state / LAST_RUN).read_bytes())
    except (OSError, ValueError):
        return None
