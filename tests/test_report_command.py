"""`pruner report`: the page of finished runs again, without writing into them."""

from __future__ import annotations

import json
import re
import shutil
import webbrowser
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import html
from report_samples import sample_run

from pruner.account.summary import Summary
from pruner.ask.report import runs_in, write_page
from pruner.cli.boundary import guarded
from pruner.job import run
from pruner.pages.page import PAGE_NAME, render, write_report
from pruner.publish.versions import new_version, versions
from pruner.settings.load import load_settings
from pruner.words.errors import ExitCode, SettingsError

SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "all"
[[radio]]
name = "bench"
contacts = 12
[[radio]]
name = "car"
contacts = 12
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with settings and the finished runs of two radios, each with its page."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stations.csv").write_text("id,callsign\n2320001,OE1AAA\n")
    (tmp_path / "pruner.toml").write_text(SETTINGS)
    for radio in ("bench", "car"):
        folder = tmp_path / "out" / radio
        summary = sample_run(folder, radio=radio)
        page = write_report(folder, summary)
        whole = summary.model_copy(update={"files": (*summary.files, page)})
        (folder / "summary.json").write_text(whole.text(), encoding="utf-8")
    return tmp_path


def everything_in(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_one_radio_is_the_page_of_its_run(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = everything_in(here / "out")
    assert guarded(["report", "--radio", "car"]) == ExitCode.DONE
    assert capsys.readouterr().out == f"{here / 'report.html'}\n"
    assert (here / "report.html").read_bytes() == before[here / "out/car/report.html"]
    assert everything_in(here / "out") == before
    assert sorted(path.name for path in here.iterdir()) == ["out", "pruner.toml", "report.html", "stations.csv"]


def test_all_radios_side_by_side(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert guarded(["report", "--out", "pages/all.html", "--json"]) == ExitCode.DONE
    told = json.loads(capsys.readouterr().out)
    assert told["file"] == str(here / "pages/all.html")
    assert told["radios"] == [
        {
            "radio": radio,
            "unit": "contacts",
            "holds": 12,
            "kept": 12,
            "room_left": 0,
            "cut": "the rest",
            "to_come": None,
            "coverage": 0.75,
            "coverage_of": "on your talkgroups",
        }
        for radio in ("bench", "car")
    ]
    page = (here / "pages/all.html").read_text(encoding="utf-8")
    assert "<h1>2 radios side by side</h1>" in page
    assert re.findall(r'<h2 id="radio-(\d)-radio"><bdi>(\w+)</bdi>', page) == [("1", "bench"), ("2", "car")]


def test_a_folder_of_results_without_settings(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "pruner.toml").unlink()
    assert guarded(["report", "out", "--out", "all.html"]) == ExitCode.DONE
    assert guarded(["report", "out/bench", "--out", "bench.html"]) == ExitCode.DONE
    assert (here / "bench.html").read_bytes() == (here / "out/bench/report.html").read_bytes()
    assert "2 radios" in (here / "all.html").read_text(encoding="utf-8")
    capsys.readouterr()
    assert guarded(["report", "out", "--radio", "boat"]) == ExitCode.SETTINGS
    assert "no finished run of a radio 'boat'" in capsys.readouterr().err


def test_an_earlier_page_is_replaced_and_nothing_else(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert guarded(["report", "--radio", "car"]) == ExitCode.DONE
    assert guarded(["report"]) == ExitCode.DONE
    assert "2 radios" in (here / "report.html").read_text(encoding="utf-8")
    other = here / "letter.html"
    other.write_text("<!doctype html>\n<p>a letter</p>")
    capsys.readouterr()
    assert guarded(["report", "--out", "letter.html"]) == ExitCode.SETTINGS
    assert capsys.readouterr().err == "pruner: letter.html: exists and is no page of pruner; name another file with --out\n"
    assert other.read_text() == "<!doctype html>\n<p>a letter</p>"


@pytest.mark.parametrize("out", ["out/bench/report.html", "out/bench/more.html", "link.html"])
def test_a_finished_run_is_never_written_into(here: Path, capsys: pytest.CaptureFixture[str], out: str) -> None:
    (here / "link.html").symlink_to(here / "out/bench/report.html")
    before = everything_in(here / "out")
    assert guarded(["report", "--out", out]) == ExitCode.SETTINGS
    assert "bench is a finished run, which nothing is written into" in capsys.readouterr().err
    assert everything_in(here / "out") == before


def test_the_same_page_in_its_own_place_is_left_as_it_is(here: Path) -> None:
    file = here / "out/bench/report.html"
    stamp = file.stat().st_mtime_ns
    assert guarded(["report", "--radio", "bench", "--out", str(file)]) == ExitCode.DONE
    assert file.stat().st_mtime_ns == stamp


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--radio", "boat"], "no radio is named 'boat' (there are: bench, car)"),
        (["nowhere"], "nowhere: holds no finished run; run pruner fit first"),
        (["--out", "out"], "out: is a folder; name a file with --out"),
        (["--out", "stations.csv/x.html"], "stations.csv/x.html: cannot be written"),
    ],
)
def test_mistakes_are_one_line(here: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str) -> None:
    assert guarded(["report", *arguments]) == ExitCode.SETTINGS
    err = capsys.readouterr().err
    assert words in err
    assert err.count("\n") == 1


@pytest.mark.parametrize("damage", ["missing", "no ledger", "no json", "old summary", "other ledger"])
def test_what_is_no_whole_run_is_refused(here: Path, capsys: pytest.CaptureFixture[str], damage: str) -> None:
    folder = here / "out/bench"
    if damage == "missing":
        folder.rename(here / "away")
    elif damage == "no ledger":
        (folder / "ledger.parquet").unlink()
    elif damage == "no json":
        (folder / "summary.json").write_text("{")
    elif damage == "old summary":
        summary = json.loads((folder / "summary.json").read_text())
        del summary["placed_by"]
        (folder / "summary.json").write_text(json.dumps(summary))
    else:
        (folder / "ledger.parquet").write_bytes((folder / "ledger.parquet").read_bytes() + b"x")
    assert guarded(["report"]) == ExitCode.SETTINGS
    err = capsys.readouterr().err
    assert "run pruner fit" in err
    assert err.count("\n") == 1
    assert not (here / "report.html").exists()


def test_a_ledger_of_another_run_is_refused(here: Path) -> None:
    runs = runs_in(here / "out", "bench")
    files = tuple(file.model_copy(update={"sha256": "0" * 64}) for file in runs[0].summary.files)
    runs[0] = replace(runs[0], summary=runs[0].summary.model_copy(update={"files": files}))
    with pytest.raises(SettingsError, match="the ledger is not the one"):
        write_page(runs, here / "report.html")


def test_open_asks_the_browser_only_where_there_is_a_display(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    monkeypatch.setattr(webbrowser, "open", lambda address: asked.append(address) or True)
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert guarded(["report", "--open"]) == ExitCode.DONE
    assert asked == []
    monkeypatch.setenv("DISPLAY", ":0")
    assert guarded(["report", "--open"]) == ExitCode.DONE
    assert asked == [(here / "report.html").as_uri()]


def test_a_published_version_is_told_with_its_day(here: Path) -> None:
    """The day of publication stands on the page that is made anew, never in the version itself."""
    folder, state = here / "out", here / ".pruner"
    with new_version(folder, state) as making:
        for radio in ("bench", "car"):
            shutil.copytree(folder / radio, making / radio)
    before = everything_in(folder / ".versions")
    assert guarded(["report", "--radio", "car"]) == ExitCode.DONE
    day = next(version.made_at[:10] for version in versions(folder, state) if version.current)
    assert f"Report of a fit, {day}<" in (here / "report.html").read_text(encoding="utf-8")
    assert everything_in(folder / ".versions") == before
    assert day.encode() not in (folder / "car" / "report.html").read_bytes()
    for place in ("out/current/page.html", "out/car/page.html", "out/.versions/1/page.html"):
        assert guarded(["report", "--out", place]) == ExitCode.SETTINGS
    assert everything_in(folder / ".versions") == before
    assert guarded(["report", "--out", "out/page.html"]) == ExitCode.DONE


def test_hostile_texts_from_a_directory_to_the_page(tmp_path: Path) -> None:
    """Read, fitted and shown: markup in call signs, rules and sources is text on the page."""
    (tmp_path / "<b onclick=x>.csv").write_text(
        'id,callsign,name\n2320001,<script>alert(1)<|script>,A\n2320002,"<img src=x onerror=alert(1)>",B\n2320003,=1+1,C\n',
        encoding="utf-8",
    )
    (tmp_path / "pruner.toml").write_text(
        '[[source]]\nname = "world"\nlocation = "<b onclick=x>.csv"\n'
        'columns = { id = 1, callsign = 2 }\n[[drop]]\nname = "<i>"\nids = [9]\n'
        """[[keep]]\nname = '</title><script src="x">'\n[[radio]]\nname = "r"\ncontacts = 2\n""",
        encoding="utf-8",
    )
    settings = load_settings(tmp_path / "pruner.toml")
    (summary,) = run(settings).summaries
    page = render(summary, tmp_path / "out/r/ledger.parquet")
    apart = {one.text_content() for one in html.fromstring(page).iter("bdi")}
    assert {"<SCRIPT>ALERT(1)<|SCRIPT>", "=1+1", "<b onclick=x>.csv", "<i>", '</title><script src="x">'} <= apart
    assert not re.search(r"<(script|img|b|i)\b", page)


@pytest.mark.long
def test_charts_by_option(here: Path) -> None:
    assert guarded(["report", "--radio", "bench", "--charts"]) == ExitCode.DONE
    summary = Summary.load(here / "out/bench")
    assert (here / "report.html").read_text(encoding="utf-8") == render(summary, here / "out/bench/ledger.parquet", charts=True)
    assert "Chart of calls with a name by limit" in (here / "report.html").read_text(encoding="utf-8")
    assert PAGE_NAME in {file.name for file in summary.files}
