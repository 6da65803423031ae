"""The table `[refresh]`: how unattended runs go about their work, and whom they tell.

Receives the table as the TOML reader gives it (lists as tuples), hands on a frozen model whose paths are absolute.
"""

from __future__ import annotations

import re
from typing import Annotated, Final

from pydantic import AfterValidator, Field

from pruner.settings import values
from pruner.settings.table import Table

_ADDRESS: Final = re.compile(r"https?://[^/?#@\s]+(?:[/?#]\S*)?", re.IGNORECASE)


def _address(text: str) -> str:
    if not _ADDRESS.fullmatch(text) or not text.isprintable():
        raise values.complete("expected an http(s) address without user name and password in it")  # it may hold a secret
    return text


def _argument(text: str) -> str:
    if "\0" in text:
        raise values.wrong("expected text without NUL characters")
    return text


def _program(arguments: tuple[str, ...]) -> tuple[str, ...]:
    if not arguments[0].strip():
        raise values.complete("expected the program first, then its arguments")
    return arguments


Address = Annotated[str, AfterValidator(_address)]
Arguments = Annotated[tuple[Annotated[str, AfterValidator(_argument)], ...], Field(min_length=1), AfterValidator(_program)]
Share = Annotated[float, Field(ge=0, le=1)]


class Tell(Table):
    """Whom a refresh tells. `start`, `success` and `failure` are asked with GET; `command` (no shell) gets a message on its
    standard input, and its subject in place of `{subject}` in an argument; `file` holds the last message. None of them can
    make a refresh fail."""

    start: Address | None = None
    success: Address | None = None
    failure: Address | None = None
    command: Arguments | None = None
    file: values.AnyPath | None = None


class Refresh(Table):
    """How an unattended run fetches, guards, publishes and tells.

    `keep_versions` versions stay. A directory is refused when it lost more than `shrink_share_at_most` of its rows, nearly all
    rows of a country that had `country_rows_many` or more, a column, or when more than `repeat_share_at_most` of its rows bear
    one id. `contact` is told to servers; none is asked for a directory more often than `minimum_interval_minutes`, nor for a
    heard log than `heard_interval_minutes`, and each has `deadline_seconds`. `credentials` and `certificates` are files. From
    `worth_writing` changed contacts on it is worth writing the radio anew (None: one in 200 of its contacts).
    """

    keep_versions: Annotated[int, Field(ge=1, le=1000)] = 4
    shrink_share_at_most: Share = 0.1
    country_rows_many: Annotated[int, Field(ge=1)] = 500
    repeat_share_at_most: Share = 0.01
    contact: values.Words | None = None
    minimum_interval_minutes: Annotated[int, Field(ge=0, le=525_600)] = 60
    heard_interval_minutes: Annotated[int, Field(ge=1, le=1440)] = 5
    deadline_seconds: Annotated[int, Field(ge=1, le=86_400)] = 300
    credentials: values.AnyPath | None = None
    certificates: values.AnyPath | None = None
    worth_writing: Annotated[int, Field(ge=1)] | None = None
    tell: Tell = Tell()
