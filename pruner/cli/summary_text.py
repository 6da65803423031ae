"""The summary of a fit as text for a terminal of 80 columns."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pruner.cli.text import number, paragraph, shortened, table


def summary_text(summary: dict[str, Any], folder: Path) -> str:
    """What was read, kept, dropped and rejected, by rule and reason, and where the files lie."""
    limit = summary["limit"]["contacts"]
    dropped = sum(summary["dropped"].values())
    lines = [
        f"{shortened(summary['radio'], 40)}: {number(summary['kept'])} of {number(limit)} contacts",
        "",
        f"read {number(summary['read'])} = kept {number(summary['kept'])} + dropped {number(dropped)}"
        f" + rejected {number(summary['rejected'])}",
        "",
        table(
            [("keep rule", "matched", "kept")]
            + [(shortened(rule["name"], 40), number(rule["matched"]), number(rule["kept"])) for rule in summary["rules"]],
            right=(1, 2),
        ),
    ]
    if summary["cut"]:
        cut = summary["cut"]
        share = f"{number(cut['kept'])} of {number(cut['matched'])}"
        lines += ["", paragraph(f"The limit fell inside rule '{cut['rule']}': {share}.")]
    reasons = {**summary["dropped"], **summary["rejected_reasons"]}
    if reasons:
        rows = [("not kept", "rows"), *((word, number(count)) for word, count in reasons.items())]
        lines += ["", table(rows, right=(1,))]
    names = [*(file["name"] for file in summary["files"]), "summary.json"]
    lines += ["", paragraph(f"files in {folder}: " + ", ".join(names))]
    lines += ["", "A name on the screen is a claim, not an identification."]
    lines += ["Back up the radio before writing it."]
    return "\n".join(lines)
