"""What came of the customers of a bench, as one table for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pruner.cli.preview_text import carried_lines, import_lines
from pruner.cli.several_text import of_share, widths_within
from pruner.cli.summary_text import CAUTIONS
from pruner.cli.text import WIDTH, number, paragraph, safe, shortened, table
from pruner.library.fits import CustomerResult
from pruner.library.limits import share_words

_HEAD = ("customer", "radio", "read", "kept", "dropped", "rejected", "cut in", "to come")
#: Columns of texts, which give way where the table would be too wide.
_TEXTS = (0, 1, 6)


def bench_text(results: Sequence[CustomerResult]) -> str:
    """A row per customer and radio: the account, the rule inside which the limit fell, calls to come; then by customer why
    there is no figure, what is not carried, and where the results are."""
    rows = [row for result in results for row in _rows(result)]
    summaries = [summary for result in results for summary in result.summaries]
    lines = [_table(rows), "", *of_share(summaries, "to come"), *_reasons(results), ""]
    for result in results:
        lines += _of_customer(result)
    return "\n".join([*lines, *CAUTIONS])


def _table(rows: Sequence[tuple[str, ...]]) -> str:
    numbers = [at for at in range(len(_HEAD)) if at not in _TEXTS]
    taken = sum(max(len(row[at]) for row in [_HEAD, *rows]) for at in numbers)
    texts = [[safe(row[at]) for row in [_HEAD, *rows]] for at in _TEXTS]
    widths = dict(zip(_TEXTS, widths_within(texts, WIDTH - taken - 2 * (len(_HEAD) - 1)), strict=True))
    cut = [[shortened(cell, widths[at]) if at in widths else cell for at, cell in enumerate(row)] for row in rows]
    return table([_HEAD, *cut], right=numbers)


def _rows(result: CustomerResult) -> Iterator[tuple[str, ...]]:
    name = result.customer.name
    if result.problem is not None:
        yield name, "refused", "-", "-", "-", "-", "-", "-"
    for summary in result.summaries:
        told = summary.coverage.to_come if summary.coverage else None
        share, interval = share_words(told) if told else ("-", "")
        account = (summary.read, summary.kept, summary.dropped_rows, summary.rejected)
        yield name, summary.radio, *map(number, account), summary.cut.rule if summary.cut else "-", share
        if interval:
            yield *[""] * (len(_HEAD) - 1), interval


def _reasons(results: Sequence[CustomerResult]) -> list[str]:
    """Why there is no figure, or only a lower bound, and for whom."""
    whose: dict[str, list[str]] = {}
    for result in results:
        for summary in result.summaries:
            told = summary.coverage.to_come if summary.coverage else None
            names = whose.setdefault(told.why, []) if told and told.why else []
            if result.customer.name not in names:
                names.append(result.customer.name)
    return [paragraph(f"{', '.join(names)}: {why}") for why, names in whose.items()]


def _of_customer(result: CustomerResult) -> list[str]:
    """By radio which entries of the customer's export do not stay as they were, or are not carried, and the file to import."""
    lines = []
    for summary, folder in zip(result.summaries, result.folders, strict=True):
        lines += [
            paragraph(f"{result.customer.name}, {summary.radio}:"),
            *carried_lines(summary),
            *import_lines(summary, folder),
        ]
    return [*lines, ""] if lines else []
