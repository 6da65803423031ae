"""A sample file -> a layout: reading's words for headings and the learning of layouts, put together.

Receives a path, hands on what was learned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from pruner.layout.learn import Learned, learn
from pruner.read.kinds import EXPORT
from pruner.table.board import Board
from pruner.table.choices import heading_weight
from pruner.table.cut import SAMPLE_ROWS
from pruner.table.headings import WHOLE
from pruner.table.identify import identify
from pruner.words import schema
from pruner.words.errors import SourceMissingError


def learn_layout(sample: Path, answers: Mapping[int, str] | None = None, capitals: bool | None = None) -> Learned:
    """Learns from a file that a radio's programming software wrote; `answers` are templates for columns (from 0), `capitals`
    whether what stands in capitals there always does.

    Raises SourceMissingError where there is no such file, InputRefusedError where it is no table of text, SettingsError
    where an answer is no template.
    """
    try:
        data = sample.read_bytes()
    except OSError as error:
        raise SourceMissingError(f"{sample}: the sample cannot be read ({error.strerror})") from None
    return learn(data, str(sample), sample.suffix.removeprefix("."), understand, answers, capitals)


def understand(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, int]:
    """Position of each meaning that a heading speaks for and its cells do not contradict."""
    board = Board(headings, rows[:SAMPLE_ROWS], "dmr")
    found = identify(board, EXPORT, {})
    meanings = {meaning: choice.position for meaning, choice in found.choices.items() if choice.evidence != "cells"}
    for name in (schema.FIRST_NAME, schema.LAST_NAME):  # beside whole names they say nothing new to a reader, but to a writer
        headed = [place for place in found.unused if heading_weight(board, EXPORT.meaning(name), place) >= WHOLE]
        if schema.NAME in meanings and name not in meanings and headed:
            meanings[name] = headed[0]
    return meanings
