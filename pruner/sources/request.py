"""What is asked for, and what came of it."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from pathlib import Path

from pruner.sources.credentials import Credentials
from pruner.sources.location import shown


@dataclass(frozen=True, slots=True)
class Request:
    """A source on the network and the limits of asking for it. `repr` holds no secret: it leaves the location out.

    `called` is what messages call it ("": a source of its name); `secret` the name under which its credentials are looked for
    (None: under none yet); `again` the command that asks at once;
    `takes_pages`: whether a page (HTML) that holds a table is an answer.
    `deadline_seconds` bounds everything together: look-up of the name, connection, all tries and the pauses between.
    `certificates` is a file of further authorities in PEM form, trusted beside those of the system.
    """

    name: str
    location: str = field(repr=False)
    _: KW_ONLY
    credentials: Credentials | None = None
    user_agent_contact: str | None = None
    deadline_seconds: float = 300
    raw_bytes_at_most: int = 1 << 30
    decoded_bytes_at_most: int = 4 << 30
    minimum_interval_seconds: float = 3600
    redirects_at_most: int = 5
    certificates: Path | None = None
    tries_at_most: int = 3
    pause_seconds: float = 1.0
    called: str = ""
    secret: str | None = ""
    again: str = "pruner refresh --force"
    takes_pages: bool = False

    @property
    def subject(self) -> str:
        """What a message about it begins with."""
        return self.called or f"source {self.name!r}: {shown(self.location)}"

    @property
    def secret_name(self) -> str | None:
        """The name of its credentials, None where the settings name none."""
        return self.name if self.secret == "" else self.secret


@dataclass(frozen=True, slots=True)
class Fetched:
    """The stored body of a source.

    path: the file, decoded per Content-Encoding, otherwise byte for byte as sent; sha256, bytes: of that file;
    changed: whether it differs from what was stored before; fetched_at: when these bytes came; checked_at: when the server last
    confirmed them (both seconds since 1970); note: what the user should know, "" if nothing; asked: whether the server was
    asked now.
    """

    path: Path
    sha256: str
    bytes: int
    changed: bool
    fetched_at: float
    checked_at: float
    note: str = ""
    asked: bool = True


class FailedError(Exception):
    """A try that failed. The text says why in words of ours, without secrets.

    refused: bytes came, but not usable ones; again: another try may help; status: what the server answered, 0 if nothing.
    """

    def __init__(
        self, text: str, *, refused: bool = False, again: bool = False, status: int = 0, retry_after: str | None = None
    ) -> None:
        super().__init__(text)
        self.refused = refused
        self.again = again
        self.status = status
        self.retry_after = retry_after
