"""The page that people read: one self-contained HTML file for one radio, or for several side by side.

Receives summaries and ledgers of finished runs, hands on the page as text. The same input gives the same bytes; no clock is
looked at. Nothing in the page runs: its content security policy allows its one style sheet, by hash, and nothing else.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pruner.account.limits import Lasts
from pruner.account.missed import OWNED, kept_of_owned
from pruner.account.parts import FileMark
from pruner.account.summary import Summary
from pruner.account.tallies import Tallies, tally
from pruner.account.to_come_text import BEST_POSSIBLE
from pruner.pages.page_model import RadioPage, country_name, radio_page
from pruner.pages.page_text import TEMPLATES, environment
from pruner.publish.folders import fingerprint

if TYPE_CHECKING:
    from jinja2 import Environment

#: The page's name in the folder of a run.
PAGE_NAME: Final = "report.html"
#: How every page begins, and what its head says: what differs is somebody else's.
BEGINNING: Final = "<!doctype html>\n"
GENERATOR: Final = '<meta name="generator" content="pruner report">'
_PARTS: Final = (
    ("fit", "Does it fit?"),
    ("room", "How full?"),
    ("file", "What stands in the file"),
    ("coverage", "Calls with a name"),
    ("limits", "A larger radio?"),
    ("kept", "Who was kept"),
    ("dropped", "Who was dropped"),
    ("repaired", "Repairs and doubts"),
    ("sources", "Sources"),
    ("mind", "Before you write the radio"),
)


def render(
    summary: Summary,
    ledger: Path,
    *,
    charts: bool = False,
    date: str | None = None,
    tallied: Tallies | None = None,
    lasting: Sequence[Lasts] | None = None,
) -> str:
    """The page of one radio. An entry of the page itself among the files is passed over, `ledger` the path of
    ledger.parquet, `date` what to say of when the data was published. `charts` wants the extra `charts`. `tallied`: what
    `tally(ledger)` gives, where that is known already; `lasting`: until when each of its limits
    lasts (None: no dates on the page)."""
    return _page([_with_charts(radio_page(summary, tallied or tally(ledger), date=date, lasting=lasting), charts)])


def render_several(
    runs: Sequence[tuple[Summary, Path]],
    *,
    charts: bool = False,
    date: str | None = None,
    lasting: Sequence[Sequence[Lasts] | None] = (),
) -> str:
    """One page that compares radios and then shows each; `runs` are summaries with the paths of their ledgers, `lasting` of
    each until when its limits last (none: no dates on the page)."""
    known = lasting or [None] * len(runs)
    if len(runs) == 1:
        return render(*runs[0], charts=charts, date=date, lasting=known[0])
    pages = [
        radio_page(summary, tally(ledger), date=date, level=3, prefix=f"radio-{place}-", lasting=days)
        for place, ((summary, ledger), days) in enumerate(zip(runs, known, strict=True), 1)
    ]
    return _page([_with_charts(page, charts) for page in pages])


def prepare() -> None:
    """Loads and compiles the templates ahead of the first page; may run in a thread beside other work."""
    for name in ("page.html", "radio.html", "parts.html"):
        _environment().get_template(name)


def write_report(
    folder: Path,
    summary: Summary,
    *,
    charts: bool = False,
    date: str | None = None,
    tallied: Tallies | None = None,
) -> FileMark:
    """Writes `report.html` into a folder that holds `ledger.parquet`; returns its mark."""
    path = folder / PAGE_NAME
    text = render(summary, folder / "ledger.parquet", charts=charts, date=date, tallied=tallied)
    path.write_text(text, encoding="utf-8", newline="\n")
    return fingerprint(path)


def _with_charts(page: RadioPage, wanted: bool) -> RadioPage:
    if not wanted:
        return page
    from pruner.pages.charts import charts_of

    page.charts.update(charts_of(page))
    return page


def _page(pages: Sequence[RadioPage]) -> str:
    from markupsafe import Markup

    style = (TEMPLATES / "style.css").read_text(encoding="utf-8")
    return (
        _environment()
        .get_template("page.html")
        .render(pages=pages, parts=_PARTS, style=Markup(style), style_hash=_hash(style), own_name=PAGE_NAME)
    )


@cache
def _environment() -> Environment:
    made = environment()
    made.globals.update(country_name=country_name, owned=OWNED, best_possible=BEST_POSSIBLE, kept_of_owned=kept_of_owned)
    return made


def _hash(text: str) -> str:
    """The source expression of an inline style sheet (W3C Content Security Policy Level 3, 2.3.1)."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
