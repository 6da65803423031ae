"""Options that take a number of things: one reading of what people write, for all commands.

Receives the range of an option, hands on the option. Ports, baud rates, ids and numbers of versions are no counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import typer

from pruner.words.counts import count_between, counts_of

#: As in the settings.
MOST: Final = (1 << 31) - 1


@dataclass(frozen=True, slots=True)
class CountParser:
    """Reads one number of things; the default of an option comes as the number that it is."""

    least: int
    most: int

    def __call__(self, given: str | int) -> int:
        try:
            return count_between(str(given), self.least, self.most)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from None


@dataclass(frozen=True, slots=True)
class CountsParser:
    """Reads numbers with commas between."""

    least: int
    most: int

    def __call__(self, given: str) -> list[int]:
        try:
            return counts_of(given, self.least, self.most)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from None


class Counts(list[int]):
    """What an option with `CountsParser` hands on."""


def count_option(*names: str, least: int = 0, most: int | None = None, help: str) -> Any:
    """An option that takes a number of things; `most` (None: as many as settings allow) is included."""
    parser = CountParser(least, MOST if most is None else most)
    return typer.Option(*names, parser=parser, metavar="<count>", min=least, max=most, help=help)


def counts_option(*names: str, help: str) -> Any:
    """An option that takes numbers with commas between, each at least 1."""
    return typer.Option(*names, parser=CountsParser(1, MOST), metavar="<counts>", help=help)
