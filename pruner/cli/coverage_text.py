"""What `coverage` prints: a table of orders and limits, and which order leads."""

from __future__ import annotations

from collections.abc import Sequence

from pruner.cli.text import WIDTH, number, paragraph, shortened, table
from pruner.library.questions import BEST, CONFIDENCE, Estimate, Proof, SystemProof
from pruner.library.results import BEST_POSSIBLE
from pruner.words.nouns import counted

_NAME = 20


def coverage_text(found: Sequence[SystemProof]) -> str:
    """One part per system."""
    return "\n\n".join(_of_system(one) for one in found)


def _of_system(found: SystemProof) -> str:
    proof = found.proof
    on = "all talkgroups" if found.talkgroups is None else "talkgroups " + ", ".join(map(str, found.talkgroups))
    days = ", ".join(map(str, found.known_until))
    parts = [
        paragraph(
            f"{found.system}, {on}: each chose with what was known on {days}, among the contacts {_among(found)}, "
            f"and was scored on the calls of the {counted(proof.period_days, 'day')} "
            f"after{' each' if len(proof.cuts) > 1 else ''}. {counted(proof.calls, 'call')} came, "
            f"{_percent(proof.known / proof.calls)} % of them from contacts that "
            f"{'could be chosen' if all(found.recorded) else 'count'}."
        ),
        *_not_recorded(found),
        paragraph("Share of these calls whose caller would have had a name, in %" + _interval(proof)),
    ]
    limits = range(len(proof.limits))
    columns = _columns(proof)
    for begin in range(0, len(limits), columns):
        parts.append(_coverage(proof, limits[begin : begin + columns]))
    parts.append(
        paragraph(
            "your rules: what fit would have kept then. often + expected, recent + expected: those heard by that order, "
            "strangers by expected. As orders of a rule often and recent leave strangers by id."
        )
    )
    parts += [paragraph(BEST_POSSIBLE), _leaders(proof)]
    parts += [paragraph(note) for note in (*found.calls, *found.calendar)]
    if found.notes:
        parts.append(paragraph(f"expected: {found.notes[0]}"))
    return "\n\n".join(parts)


def _range(numbers: Sequence[int]) -> str:
    least, most = min(numbers), max(numbers)
    return number(most) if least == most else f"{number(least)} to {number(most)}"


def _among(found: SystemProof) -> str:
    then = _range(found.listed)
    if any(found.recorded):
        return f"that the directory had then ({then})"
    return f"of today (only those count that the directory certainly had then: {then})"


def _not_recorded(found: SystemProof) -> list[str]:
    """That the shares are lower bounds where nobody knows whom the directory had."""
    unknown = [str(day) for day, recorded in zip(found.known_until, found.recorded, strict=True) if not recorded]
    if not unknown:
        return []
    return [
        paragraph(
            f"No run recorded whom the directory had on {', '.join(unknown)}: there each chose among the contacts of "
            "today, and of those chosen only the ones count that certainly stood in it (up to the highest id heard in their "
            "thousand by then). So the shares are lower bounds, as far as contacts that came since leave the order of the "
            "others alone. Every run records it from now on."
        )
    ]


def _interval(proof: Proof) -> str:
    if proof.coverage[BEST][0].low is None:
        return f" (no intervals: {counted(proof.weeks, 'week is', 'weeks are')} too few)"
    return f" ({CONFIDENCE:.0%} interval, from {counted(proof.weeks, 'week')})"


def _columns(proof: Proof) -> int:
    """How many limits stand side by side."""
    names = max(len(shortened(name, _NAME)) for name in proof.coverage)
    widest = max(len(_cell(estimate)) for estimates in proof.coverage.values() for estimate in estimates)
    return min(max((WIDTH - names) // (widest + 2), 1), 3)


def _coverage(proof: Proof, limits: Sequence[int]) -> str:
    rows = [("chosen by", *(counted(proof.limits[limit], "contact") for limit in limits))]
    rows += [
        (shortened(name, _NAME), *(_cell(estimates[limit]) for limit in limits)) for name, estimates in proof.coverage.items()
    ]
    return table(rows, right=range(1, len(limits) + 1))


def _leaders(proof: Proof) -> str:
    rows = [("contacts", "best", "ahead of", "by points")]
    for place, limit in enumerate(proof.limits):
        first, second = sorted(
            (name for name in proof.coverage if name != BEST), key=lambda name: -proof.coverage[name][place].value
        )[:2]
        lead = proof.lead[first, second][place]
        rows.append(
            (number(limit), shortened(first, _NAME), shortened(second, _NAME), _cell(lead))
            if _is_ahead(lead)
            else (number(limit), "none", "", "")
        )
    if all(row[1] == "none" for row in rows[1:]):
        return paragraph("At none of these limits is the best ahead of the next best by more than chance may do.")
    return paragraph("The best at each limit, where it is ahead of the next best by more than chance may do:") + (
        "\n" + table(rows, right=(0, 3))
    )


def _is_ahead(lead: Estimate) -> bool:
    """Whether a lead is more than chance, and more than nothing in the digits that are shown."""
    return _percent(lead.value) != _percent(0) and (lead.low is None or lead.low > 0)


def _percent(share: float) -> str:
    return f"{100 * share:.1f}"


def _cell(estimate: Estimate) -> str:
    if estimate.low is None or estimate.high is None:
        return _percent(estimate.value)
    return f"{_percent(estimate.value)} ({_percent(estimate.low)} to {_percent(estimate.high)})"
