"""The page tells what the summary and the ledger hold, in order, the same bytes each time."""

from __future__ import annotations

import base64
import hashlib
import re
import shutil
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import jinja2
import polars as pl
import pytest
from lxml import html
from report_samples import HOSTILE, LIMIT, in_bytes, sample_run
from summary_samples import altered

from pruner.account import tallies
from pruner.account.parts import FileMark
from pruner.account.summary import Summary
from pruner.pages import world_map
from pruner.pages.page import PAGE_NAME, render, render_several, write_report
from pruner.pages.page_text import clear, percent, size
from pruner.reference.tables import rows
from pruner.words.outcomes import REASON_SENTENCES, REASON_WORDS

#: Elements that HTML closes by itself (WHATWG HTML, 13.1.2, void elements).
VOID = {"meta", "link", "br", "img", "input", "hr"}


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> tuple[Summary, Path]:
    folder = tmp_path_factory.mktemp("sample") / "bench"
    return sample_run(folder), folder


@pytest.fixture
def run(tmp_path: Path, sample: tuple[Summary, Path]) -> tuple[Summary, Path]:
    summary, folder = sample
    return summary, Path(shutil.copytree(folder, tmp_path / "bench")) / "ledger.parquet"


def text_of(page: str) -> str:
    return " ".join(html.fromstring(page).text_content().replace("\N{NO-BREAK SPACE}", " ").split())


def table_of(page: str, caption: str) -> list[list[str]]:
    """The body of the table with a caption, as the text of its cells."""
    found = [one for one in html.fromstring(page).iter("table") if one.findtext("caption") == caption]
    assert len(found) == 1, caption
    body = found[0].xpath("./tbody/tr")
    return [[" ".join(cell.text_content().replace("\N{NO-BREAK SPACE}", " ").split()) for cell in row] for row in body]


def test_parts_stand_in_their_order(run: tuple[Summary, Path]) -> None:
    headings = [one.text_content() for one in html.fromstring(render(*run)).iter("h1", "h2")]
    assert headings == [
        "bench",
        "Does it fit?",
        "How full is the radio?",
        "How many calls show a name?",
        "Who was kept",
        "Who was dropped, and why",
        "What was repaired or doubted",
        "Where the data came from",
        "Before you write the radio",
    ]


def test_the_figures_are_those_of_the_ledger(run: tuple[Summary, Path]) -> None:
    """Countries and the border are counted here a second time, with polars, from the same rows."""
    page = render(*run)
    ledger = pl.read_parquet(run[1])
    stations = ledger.filter(
        (pl.col("outcome") == "kept") | pl.col("reason").is_in(["left out", "no rule", "rule full", "over limit"])
    )
    counted = {
        country or "unknown country": (total, kept)
        for country, total, kept in stations.group_by("country").agg(pl.len(), (pl.col("outcome") == "kept").sum()).iter_rows()
    }
    shown = table_of(page, "Stations by country, most stations first")
    code = {"Austria AT": "AT", "Germany DE": "DE", "United States US": "US", "Japan JP": "JP"}
    assert {code.get(row[0], row[0]): (int(row[1]), int(row[2])) for row in shown} == counted
    assert [int(row[1]) for row in shown] == sorted((int(row[1]) for row in shown), reverse=True)
    border = table_of(page, "The last that were kept and the first that were not")
    ordered = ledger.filter(pl.col("rank").is_between(LIMIT - 4, LIMIT + 5)).sort("rank")
    assert [(int(row[0]), row[1], int(row[2])) for row in border] == [
        (rank, "kept" if outcome == "kept" else "over limit", number)
        for rank, outcome, number in ordered.select("rank", "outcome", "id").iter_rows()
    ]
    assert [row[3] for row in border] == [sign or "none" for sign in ordered["callsign"]]
    assert "8 of the 20 contacts that it owns are kept" in text_of(page)


def test_every_reason_has_its_sentence(run: tuple[Summary, Path]) -> None:
    shown = {row[0]: (int(row[1]), row[3]) for row in table_of(render(*run), "Rows that were not kept, by reason")}
    counts = {**run[0].dropped, **run[0].rejected_reasons}
    sentences = {REASON_WORDS[reason]: sentence for reason, sentence in REASON_SENTENCES.items()}
    assert shown == {word: (count, sentences[word]) for word, count in counts.items()}


def test_dropped_by_country_adds_up_to_the_reasons(run: tuple[Summary, Path]) -> None:
    page = render(*run)
    shown = table_of(page, "Rows that were dropped, by country and reason; most stations lost first")
    assert sum(int(cell) for row in shown for cell in row[1:]) == run[0].dropped_rows


def test_rules_repairs_doubts_sources_and_cautions(run: tuple[Summary, Path]) -> None:
    page = render(*run)
    assert [row[:6] for row in table_of(page, "Keep rules in their order")] == [
        ["club at most 4", "id", "6", "4", "4", "0"],
        ["the rest", "id", "24", "20", "8", "12"],
    ]
    assert table_of(page, "Repairs") == [["call signs tidied", "5"]]
    assert table_of(page, "Disagreements") == [["text against id", "2"]]
    files = table_of(page, "Files, with the SHA-256 of their bytes")
    assert files[0] == ["stations.csv", "read", "1.2 kB", "ab" * 32]
    assert [row[0] for row in files[1:]] == ["ledger.parquet", "rejected.csv"]
    text = text_of(page)
    for words in (
        "a claim, not an identification",
        "Back up the radio",
        "personal data",
        "licence terms",
        "5 rows could not be read",
    ):
        assert words in text


def test_coverage_and_its_curve(run: tuple[Summary, Path]) -> None:
    page = render(*run)
    assert [row[3:] for row in table_of(page, "Looking back: calls whose caller is kept")] == [
        ["75.0 %", "87.5 %"],
        ["62.5 %", "75.0 %"],
    ]
    curve = table_of(page, "Looking back: calls on your talkgroups with a name, had the radio another limit")
    assert ["12 (this radio)", "75.0 %", ""] in curve
    assert len(curve) == 12
    assert "room for 24 contacts would have named 90.0 % of the calls, this radio names 75.0 %" in text_of(page)


def test_without_logs_without_calls_and_with_nobody(tmp_path: Path) -> None:
    summary = sample_run(tmp_path / "a", coverage=False)
    ledger = tmp_path / "a" / "ledger.parquet"
    assert "There are no heard logs" in text_of(render(summary, ledger))
    nothing = {"calls": 0, "named": 0, "in_directory": 0, "share": None, "best_share": None}
    coverage = {"window_days": 30, "all": nothing, "mine": None, "by_limit": [], "expected_by": {}}
    assert "no calls in the last 30 days" in text_of(render(altered(summary, coverage=coverage), ledger))
    rejected = altered(summary, kept=0, dropped={"no rule": 35}, rules=[], cut=None, changed={}, drop_rules=[])
    text = text_of(render(rejected, ledger))
    assert "The rules keep nobody" in text
    assert "Nothing had to be repaired" in text


def test_an_empty_ledger(tmp_path: Path) -> None:
    """A source with a heading line and nothing else."""
    summary = sample_run(tmp_path)
    pl.read_parquet(tmp_path / "ledger.parquet").clear().write_parquet(tmp_path / "ledger.parquet", use_pyarrow=True)
    empty = altered(summary, read=0, kept=0, rejected=0, dropped={}, rejected_reasons={}, cut=None)
    text = text_of(render(empty, tmp_path / "ledger.parquet"))
    assert "Nobody: every row that was read is in the file." in text
    assert "There is no station." in text


def test_room(tmp_path: Path) -> None:
    summary = sample_run(tmp_path)
    ledger = tmp_path / "ledger.parquet"
    free = altered(summary, limit={"contacts": 20, "keep_free": 5, "bytes": None})
    text = text_of(render(free, ledger))
    assert "12 of 20 contacts are used, 3 are left, 5 are kept free" in text
    assert "The radio is full but for 5 places kept free, so 12 stations had to stay out." in text
    dropped = {word: count for word, count in summary.dropped.items() if word != "over limit"}
    text = text_of(render(altered(free, dropped=dropped, cut=None), ledger))
    assert "Everybody whom the rules let in fits: 12 contacts, with 3 places left." in text
    text = text_of(render(in_bytes(summary, "coverage"), ledger))
    assert "990 of 1,000 bytes are used, 10 are left" in text
    assert "worth 12.5 expected calls; no choice is worth more than 13.2" in text
    assert "With other limits" not in text


@pytest.mark.long
def test_another_process_writes_the_same_bytes_and_loads_no_chart_library(run: tuple[Summary, Path]) -> None:
    code = (
        "import sys; from pathlib import Path; import pruner.pages.page as page\n"
        "assert 'jinja2' not in sys.modules\n"
        "folder = Path(sys.argv[1]); summary = page.Summary.load(folder)\n"
        "sys.stdout.buffer.write(page.render(summary, folder / 'ledger.parquet').encode())\n"
        "assert not {'altair', 'vl_convert', 'polars'} & set(sys.modules)"
    )
    other = subprocess.run([sys.executable, "-c", code, run[1].parent], capture_output=True, check=True, timeout=60)
    assert other.stdout == render(*run).encode()


def test_the_date_is_told_only_where_it_is_given(run: tuple[Summary, Path]) -> None:
    assert "Report of a fit, 2026-07-31" in text_of(render(*run, date="2026-07-31"))
    assert not re.search(r"\b20[2-9]\d-\d\d-\d\d", render(*run))


def test_write_report_tells_its_mark_and_renders_the_same_again(run: tuple[Summary, Path]) -> None:
    summary, ledger = run
    for _ in range(2):
        mark = write_report(ledger.parent, summary)
        data = (ledger.parent / PAGE_NAME).read_bytes()
        assert mark == FileMark(name=PAGE_NAME, sha256=hashlib.sha256(data).hexdigest(), bytes=len(data))
        summary = altered(summary, files=[*summary.document()["files"], mark.model_dump()])
    assert render(summary, ledger).encode() == data


class Balance(HTMLParser):
    """Every element that is opened is closed, in turn; ids are told once."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.names: set[str] = set()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Plain and with charts, one radio and several, all with hostile names."""
    folder = tmp_path_factory.mktemp("hostile")
    summary = sample_run(folder / "a", hostile=True)
    ledger = folder / "a" / "ledger.parquet"
    several = [(summary, ledger), (in_bytes(summary, "coverage"), ledger)]
    return [
        render(summary, ledger),
        render(summary, ledger, charts=True, date=HOSTILE[0]),
        render_several(several, charts=True),
    ]


def test_markup_is_whole_and_nothing_of_it_can_act(pages: list[str]) -> None:
    for page in pages:
        balance = Balance()
        balance.feed(page)
        assert balance.open == []
        assert len(balance.ids) == len(set(balance.ids))
        assert not balance.names & {"script", "link", "img", "iframe", "object", "embed", "form", "base", "use", "image"}
        assert not {name for name in balance.attributes if name.startswith("on") or name in ("style", "src", "srcset")}
        anchors = re.findall(r'href="([^"]*)"', page)
        assert anchors
        assert {anchor[1:] for anchor in anchors} <= set(balance.ids)


def test_hostile_texts_stand_literally_and_apart(pages: list[str]) -> None:
    for page in pages:
        read = html.fromstring(page)
        apart = {one.text_content() for one in read.iter("bdi")}
        for words in (*HOSTILE[:3], HOSTILE[5], HOSTILE[7], HOSTILE[9], HOSTILE[11]):
            assert clear(words) in apart, words
        assert any("a\\u202eb\\u2066c\\u200fd\\u2029e" in words for words in apart)
        assert not re.search("[\u202a-\u202e\u2066-\u2069\u200e\u200f\u2028\u2029\x00-\x09\x0b-\x1f\x7f]", page)


def test_the_policy_allows_the_one_style_sheet_and_nothing_else(pages: list[str]) -> None:
    for page in pages:
        sheets = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
        assert len(sheets) == 1
        # W3C Content Security Policy Level 3, 2.3.1: the base64 of the SHA-256 of the element's text.
        digest = base64.b64encode(hashlib.sha256(sheets[0].encode()).digest()).decode()
        policy = html.fromstring(page).xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
        assert policy == [f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"]
        assert "url(" not in sheets[0]
        assert "@import" not in sheets[0]


def test_charts_say_what_is_missing_without_the_extra(run: tuple[Summary, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    from pruner.words.errors import SettingsError

    monkeypatch.setitem(sys.modules, "vl_convert", None)
    with pytest.raises(SettingsError, match=r"pip install '\.\[charts\]'"):
        render(*run, charts=True)
    assert render(*run)


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (None, "–"),
        (0.0, "0.0 %"),
        (1.0, "100.0 %"),
        (0.5, "50.0 %"),
        (0.9996, "99.96 %"),
        (0.999996, "99.9996 %"),
        (0.0004, "0.04 %"),
    ],
)
def test_a_share_never_looks_whole_when_it_is_not(share: float | None, words: str) -> None:
    assert percent(share).replace("\N{NO-BREAK SPACE}", " ") == words


@pytest.mark.parametrize(
    ("count", "words"),
    [(0, "0 bytes"), (999, "999 bytes"), (1000, "1.0 kB"), (19_096_301, "19.1 MB"), (2_500_000_000, "2.5 GB")],
)
def test_sizes(count: int, words: str) -> None:
    assert size(count) == words


@pytest.mark.parametrize(
    ("kept", "stations", "step"),
    [(0, 9, 0), (1, 1000, 1), (24, 100, 1), (25, 100, 2), (50, 100, 3), (75, 100, 4), (999, 1000, 4), (7, 7, 5)],
)
def test_steps_of_the_map(kept: int, stations: int, step: int) -> None:
    assert world_map.step_of(kept, stations) == step


def test_the_map_shades_each_country_once(run: tuple[Summary, Path]) -> None:
    drawn = world_map.world_map(tallies.tally(run[1]).by_country)
    titles = {shape.title: shade.style for shade in drawn.shades for shape in shade.shapes if shape.title}
    assert titles == {
        f"{name}: {kept} of {total} kept": f"s{world_map.step_of(kept, total)}"
        for name, kept, total in _counted(run[1])
        if name != "unknown"
    }
    assert [one.code for one in drawn.elsewhere] == [""]
    paths = [shape.path for shade in drawn.shades for shape in shade.shapes]
    assert sorted(paths) == sorted(row[1] for row in rows("outlines.tsv"))
    assert all(re.fullmatch(r"[MlLaAzZhHvV0-9 .,-]+", path) for path in paths)


def _counted(ledger: Path) -> list[tuple[str, int, int]]:
    names = {"AT": "Austria", "DE": "Germany", "US": "United States", "JP": "Japan", None: "unknown"}
    stations = pl.read_parquet(ledger).filter(
        pl.col("reason").is_null() | pl.col("reason").is_in(["left out", "no rule", "over limit"])
    )
    groups = stations.group_by("country").agg((pl.col("outcome") == "kept").sum(), pl.len()).iter_rows()
    return [(names[country], kept, total) for country, kept, total in groups]


def test_summary_from_json_gives_the_same_page(run: tuple[Summary, Path]) -> None:
    again = Summary.load(run[1].parent)
    assert again == run[0]
    assert render(again, run[1]) == render(*run)


def test_compiled_templates_are_not_needed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where nothing may be written beside the templates, what lies there is read, and without it the page is the same."""
    from pruner.pages import page_text

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError("read-only")

    templates = tmp_path / "templates"
    shutil.copytree(page_text.TEMPLATES, templates, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(page_text, "TEMPLATES", templates)
    with monkeypatch.context() as closed:
        closed.setattr(Path, "mkdir", refuse)
        assert page_text.environment().bytecode_cache is None
        assert page_text.environment().get_template("page.html")
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert page_text.environment().bytecode_cache is None
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    page_text.environment().get_template("page.html")
    assert list((templates / "__pycache__").glob("*.cache"))
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    with monkeypatch.context() as compiled:
        compiled.setattr(jinja2.Environment, "_generate", refuse)
        assert page_text.environment().get_template("page.html")
