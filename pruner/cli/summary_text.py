"""The summary of a fit as text for a terminal of 80 columns."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pruner.cli.text import number, safe, table


def summary_text(summary: dict[str, Any], folder: Path) -> str:
    """What was read, kept, dropped and rejected, by rule and reason, and where the files lie."""
    limit = summary["limit"]["contacts"]
    dropped = sum(summary["dropped"].values())
    lines = [
        f"{summary['radio']}: {number(summary['kept'])} of {number(limit)} contacts",
        "",
        f"read {number(summary['read'])} = kept {number(summary['kept'])} + dropped {number(dropped)}"
        f" + rejected {number(summary['rejected'])}",
        "",
        table(
            [("keep rule", "matched", "kept")]
            + [(rule["name"][:40], number(rule["matched"]), number(rule["kept"])) for rule in summary["rules"]],
            right=(1, 2),
        ),
    ]
    if summary["cut"]:
        cut = summary["cut"]
        lines += ["", f"The limit fell inside rule {safe(cut['rule'])!r}: {number(cut['kept'])} of {number(cut['matched'])}."]
    reasons = {**summary["dropped"], **summary["rejected_reasons"]}
    if reasons:
        lines += ["", table([("not kept", "rows"), *((word, number(count)) for word, count in reasons.items())], right=(1,))]
    lines += ["", f"files in {safe(str(folder))}: " + ", ".join([file["name"] for file in summary["files"]] + ["summary.json"])]
    lines += ["A name on the screen is a claim, not an identification. Back up the radio before writing it."]
    return "\n".join(lines)
