"""A sample file -> a layout: reading's words for headings and the learning of layouts, put together.

Receives a path, hands on what was learned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from pruner.layout.learn import Learned, learn
from pruner.read.kinds import EXPORT
from pruner.table.board import Board
from pruner.table.cut import SAMPLE_ROWS
from pruner.table.identify import identify
from pruner.words.errors import SourceMissingError


def learn_layout(sample: Path, answers: Mapping[int, str] | None = None) -> Learned:
    """Learns from a file that a radio's programming software wrote; `answers` are templates for columns (from 0).

    Raises SourceMissingError where there is no such file, InputRefusedError where it is no table of text, SettingsError
    where an answer is no template.
    """
    try:
        data = sample.read_bytes()
    except OSError as error:
        raise SourceMissingError(f"{sample}: the sample cannot be read ({error.strerror})") from None
    return learn(data, str(sample), sample.suffix.removeprefix("."), understand, answers)


def understand(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, int]:
    """Position of each meaning that a heading speaks for and its cells do not contradict."""
    found = identify(Board(headings, rows[:SAMPLE_ROWS], "dmr"), EXPORT, {})
    return {meaning: choice.position for meaning, choice in found.choices.items() if choice.evidence != "cells"}
