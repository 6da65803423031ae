"""The page of the demo with 1,000 stations, word for word.

After a wanted change: `PRUNER_REMAKE=1 .venv/bin/python -m pytest tests/test_report_golden.py`, then read the difference.
Kept is the page without its style sheet and without the outlines of the map, which have tests of their own, and without
what depends on the version of a library (size and hash of the ledger).
"""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

from pruner.job import run
from pruner.logs.fold import fold_all
from pruner.pages.page import render
from pruner.settings.load import load_settings

ROOT = Path(__file__).parent
GOLDEN = ROOT / "golden" / "report" / "demo.html"
DEMO = ROOT.parent / "fixtures" / "demo"


def page_of_the_demo(folder: Path) -> str:
    """The demo in a radio of 600 contacts, so that the limit falls inside a rule."""
    shutil.copytree(DEMO, folder)
    file = folder / "pruner.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("200_000", "600").replace("200,000", "600"), encoding="utf-8")
    settings = load_settings(file)
    fold_all(settings)
    (summary,) = run(settings).summaries
    blank = {"sha256": "0" * 64, "bytes": 0}
    files = tuple(one.model_copy(update=blank) if one.name == "ledger.parquet" else one for one in summary.files)
    page = render(summary.model_copy(update={"files": files}), folder / "out" / "loan-handheld" / "ledger.parquet")
    page = re.sub(r"<style>.*?</style>", "<style></style>", page, flags=re.DOTALL)
    page = re.sub(r"sha256-[A-Za-z0-9+/=]+", "sha256-", page)
    return re.sub(r' d="M[^"]*"(?=>(<title>|</path>))', "", page)


def test_the_page_of_the_demo(tmp_path: Path) -> None:
    page = page_of_the_demo(tmp_path / "demo")
    if os.environ.get("PRUNER_REMAKE"):
        GOLDEN.parent.mkdir(parents=True, exist_ok=True)
        GOLDEN.write_text(page, encoding="utf-8", newline="\n")
    assert page == GOLDEN.read_text(encoding="utf-8")


def test_the_golden_page_tells_of_a_cut() -> None:
    page = GOLDEN.read_text(encoding="utf-8")
    assert "The file fits: 600 contacts. The radio is full, so " in page
    assert page.count('<tr class="edge">') == 1
