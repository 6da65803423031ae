"""What came of the customers of a bench, as one table for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence

from pruner.cli.preview_text import carried_lines
from pruner.cli.several_text import of_what, share_of_calls
from pruner.cli.summary_text import CAUTIONS
from pruner.cli.text import number, paragraph, shortened, table
from pruner.library.fits import CustomerResult
from pruner.library.results import Summary


def bench_text(results: Sequence[CustomerResult]) -> str:
    """A row per customer and radio: the account, the rule inside which the limit fell, calls to come."""
    rows: list[tuple[str, ...]] = [("customer", "radio", "read", "kept", "dropped", "rejected", "cut in", "to come")]
    for result in results:
        name = shortened(result.customer.name, 11)
        if result.problem is not None:
            rows.append((name, "refused", "-", "-", "-", "-", "-", "-"))
        rows += [(name, *_cells(summary)) for summary in result.summaries]
    summaries = [summary for result in results for summary in result.summaries]
    carried = [line for result in results for line in _carried(result)]
    return "\n".join([table(rows, right=(2, 3, 4, 5, 7)), "", *of_what(summaries), *carried, *CAUTIONS])


def _carried(result: CustomerResult) -> list[str]:
    """By radio which entries of the customer's export do not stay as they were, or are not carried."""
    lines = []
    for summary in result.summaries:
        told = carried_lines(summary)
        if told:
            lines += [paragraph(f"{result.customer.name}, {summary.radio}:"), *told]
    return [*lines, ""] if lines else []


def _cells(summary: Summary) -> tuple[str, ...]:
    told = summary.coverage.to_come if summary.coverage else None
    return (
        shortened(summary.radio, 10),
        number(summary.read),
        number(summary.kept),
        number(summary.dropped_rows),
        number(summary.rejected),
        shortened(summary.cut.rule, 9) if summary.cut else "-",
        share_of_calls(told.share, told.low) if told else "-",
    )
