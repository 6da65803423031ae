"""Who is heard and has no place: named in the summary, on the terminal and in the page, with a rule that lets them in."""

from __future__ import annotations

import json
from pathlib import Path

import polars as pl
import pytest

from pruner.account.coverage import Missed, MissedStation
from pruner.account.missed import gone_sentence, rule_to_paste, warnings
from pruner.account.summary import Summary
from pruner.cli.boundary import guarded
from pruner.cli.summary_text import summary_text
from pruner.cli.why_text import _calls
from pruner.job import run
from pruner.settings.load import load_settings
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
#: Talkgroup and calls of each station in the last days; 2320001 to 2320030 are the directory, 9999999 is in none.
CALLS = {2320030: (232, 7), 2320029: (232, 7), 2320028: (91, 40), 2320027: (91, 3), 2320001: (232, 1), 9999999: (232, 50)}
SETTINGS = """
[[source]]
name = "w"
location = "s.csv"
[[heard]]
location = "l.csv"
[talkgroups]
mine = [232]
countries = false
[[drop]]
name = "asked"
ids = [2320029]
{more}
[[keep]]
name = "first"
order = "id"
[[radio]]
name = "r"
contacts = 5
"""


def settings_of(folder: Path, *, more: str = "") -> Path:
    ids = range(2320001, 2320031)
    (folder / "s.csv").write_text("id,callsign,name\n" + "".join(f"{one},OE{one % 10}A{one % 26:02},N\n" for one in ids))
    lines = [
        f"{station},{talkgroup},2026-01-{1 + call % 28:02}T10:{call:02}:{station % 60:02}Z\n"
        for station, (talkgroup, calls) in CALLS.items()
        for call in range(calls)
    ]
    (folder / "l.csv").write_text("id,talkgroup,time\n" + "".join(lines))
    path = folder / "pruner.toml"
    path.write_text(SETTINGS.format(more=more))
    return path


def summary_of(path: Path) -> Summary:
    (summary,) = run(load_settings(path)).summaries
    return summary


def missed_of(path: Path) -> Missed:
    coverage = summary_of(path).coverage
    assert coverage is not None
    assert coverage.missed is not None
    return coverage.missed


def test_those_heard_most_on_ones_own_talkgroups_come_first(tmp_path: Path) -> None:
    missed = missed_of(settings_of(tmp_path))
    assert (missed.stations, missed.calls) == (4, 7 + 7 + 40 + 3)
    told = [(one.id, one.calls_on_mine, one.calls, one.reason, one.rule) for one in missed.first]
    assert told == [
        (2320029, 7, 7, "left out", "asked"),
        (2320030, 7, 7, "over limit", "first"),
        (2320028, 0, 40, "over limit", "first"),
        (2320027, 0, 3, "over limit", "first"),
    ]
    assert missed.elsewhere is None  # the order looks at no calls


def test_the_pasted_rule_lets_them_in(tmp_path: Path) -> None:
    rule = rule_to_paste(missed_of(settings_of(tmp_path)).first)
    after = missed_of(settings_of(tmp_path, more=rule))
    assert [one.id for one in after.first] == [2320029]
    kept = pl.read_parquet(tmp_path / "out/r/ledger.parquet").filter(outcome="kept", rule="heard most")
    assert sorted(kept["id"]) == [2320027, 2320028, 2320030]


def test_a_rule_of_that_name_is_not_written_twice() -> None:
    entries = [
        MissedStation(
            id=number, system="dmr", callsign=None, country=None, calls=1, calls_on_mine=None, reason=reason, rule=None
        )
        for number, reason in ((5, "over limit"), (7, "left out"))
    ]
    assert rule_to_paste(entries, ["heard most"]) == '[[keep]]\nname = "heard most 2"\nids = [5]'
    assert rule_to_paste(entries[1:]) == ""


def test_the_ledger_has_all_of_them_and_the_command_names_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    missed = missed_of(settings_of(tmp_path))
    monkeypatch.chdir(tmp_path)
    assert guarded(["why", "--missed", "--json"]) == ExitCode.DONE
    told = json.loads(capsys.readouterr().out)
    assert [one["id"] for one in told] == [one.id for one in missed.first]
    assert {(one["window_days"], one["last_day"]) for one in told} == {(90, "2026-01-28")}
    assert guarded(["why", "--missed"]) == ExitCode.DONE
    text = " ".join(capsys.readouterr().out.split())
    share = f"{7 + 7 + 40 + 3} of the {sum(calls for _, calls in CALLS.values())} calls (52.8 %)"
    said = (
        f"Looking back: 4 stations that were heard are left out, with {share} on all talkgroups in the last 90 days of the logs"
    )
    assert f"r. {said} (to 2026-01-28)." in text
    assert guarded(["why", "--missed", "2320001"]) == ExitCode.SETTINGS


def test_the_terminal_names_five_and_the_page_says_that_not_everybody_fits(tmp_path: Path) -> None:
    path = settings_of(tmp_path)
    path.write_text(
        path.read_text().replace("contacts = 5", "contacts = 50").replace('order = "id"', 'order = "id"\nat_most = 5')
    )
    summary = summary_of(path)
    text = summary_text(summary, tmp_path / "out" / "r")
    assert "4 stations that were heard are left out" in " ".join(text.split())
    assert "ids = [2320030, 2320028, 2320027]" in text
    page = (tmp_path / "out/r/report.html").read_text()
    assert "Everybody whom the rules let in fits" not in page
    assert "But 4 stations that were heard stay out by the rules." in page
    assert "Who you would miss" in page


def test_a_warning_where_an_order_passes_by_who_is_heard_elsewhere(tmp_path: Path) -> None:
    path = settings_of(tmp_path)
    path.write_text(path.read_text().replace('order = "id"', 'order = "often"'))
    coverage = summary_of(path).coverage
    assert coverage is not None
    assert coverage.missed is not None
    elsewhere = coverage.missed.elsewhere
    assert elsewhere is not None
    # 29 contacts for 5 places: 2320030 and 2320001 were heard on 232, the other three places go by id.
    assert (elsewhere.stations, elsewhere.calls) == (2, 43)
    assert elsewhere.share == pytest.approx(43 / sum(calls for _, calls in CALLS.values()), abs=1e-6)
    (warning,) = warnings(coverage)
    assert "2 stations heard only on talkgroups that are not among yours" in warning
    few = coverage.missed.model_copy(update={"elsewhere": elsewhere.model_copy(update={"share": 0.004})})
    assert warnings(coverage.model_copy(update={"missed": few})) == []


def test_who_has_no_place_by_the_order_of_rules_is_not_passed_by_for_talkgroups(tmp_path: Path) -> None:
    """A rule of which nobody is kept would let nobody in, whatever its order looks at."""
    path = settings_of(tmp_path)
    first = '[[keep]]\nname = "before"\nids = [2320002, 2320003, 2320004, 2320005, 2320006]\n'
    path.write_text(path.read_text().replace('order = "id"', 'order = "often"').replace("[[keep]]", f"{first}[[keep]]", 1))
    coverage = summary_of(path).coverage
    assert coverage is not None
    assert coverage.missed is not None
    assert coverage.missed.elsewhere is not None
    assert coverage.missed.elsewhere.stations == 0
    assert warnings(coverage) == []


def test_countries_nearly_gone(tmp_path: Path) -> None:
    path = settings_of(tmp_path)
    assert not summary_of(path).nearly_gone  # 5 of 29
    path.write_text(path.read_text().replace("contacts = 5", "contacts = 2"))
    gone = summary_of(path).nearly_gone
    assert [(one.country, one.stations, one.kept) for one in gone] == [("AT", 30, 2)]
    assert gone_sentence(gone, ["Austria"]) == "Nearly gone, less than a tenth of their stations kept: Austria (2 of 30)."


def test_why_tells_the_expected_calls_and_those_at_the_border(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    path = settings_of(tmp_path)
    path.write_text(path.read_text().replace('order = "id"', 'order = "expected"'))
    summary_of(path)
    monkeypatch.chdir(tmp_path)
    assert guarded(["why", "2320030", "--json"]) == ExitCode.DONE
    (story,) = json.loads(capsys.readouterr().out)
    assert (story["expected_from"], story["calls"], story["calls_on_mine"]) == ("own calls", 7, 7)
    assert story["expected"] > story["expected_at_border"] > 0
    assert guarded(["why", "2320028"]) == ExitCode.DONE
    out = " ".join(capsys.readouterr().out.split())
    assert "from how often stations like it came to be heard" in out
    assert "of the last contact of its rule that is kept:" in out


@pytest.mark.parametrize(
    ("expected", "words"), [(0.0, "0.0 calls"), (5.64e-05, "0.000056 calls"), (0.1, "0.10 calls"), (1234.56, "1,234.6 calls")]
)
def test_expected_calls_have_no_exponent(expected: float, words: str) -> None:
    assert _calls(expected) == words


def test_who_is_in_is_never_told_that_nobody_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """At the border of a rule, of those kept and left out alike; only where none is kept nobody is in."""
    path = settings_of(tmp_path)
    path.write_text(path.read_text().replace('order = "id"', 'order = "expected"'))
    rule = summary_of(path).rules[-1]
    assert rule.kept
    monkeypatch.chdir(tmp_path)
    assert guarded(["why", "--rule", rule.name, "--json"]) == ExitCode.DONE
    stories = json.loads(capsys.readouterr().out)
    assert {story["outcome"] for story in stories} == {"kept", "dropped"}
    assert {story["kept_of_rule"] for story in stories} == {rule.kept}
    (last,) = {story["expected_at_border"] for story in stories}
    assert last == [story["expected"] for story in stories if story["outcome"] == "kept"][-1]
    known = f"{rule.kept} of the {rule.owned} contacts that rule {rule.name!r} owns are kept"
    assert guarded(["why", "--rule", rule.name]) == ExitCode.DONE
    assert known in " ".join(capsys.readouterr().out.split())
    path.write_text(path.read_text().replace("contacts = 5", "contacts = 0"))
    summary_of(path)
    assert guarded(["why", "--rule", rule.name]) == ExitCode.DONE
    assert f"nobody of the {rule.owned} contacts" in " ".join(capsys.readouterr().out.split())
    assert guarded(["why", "2320030"]) == ExitCode.DONE
    assert "nobody of its rule is kept" in " ".join(capsys.readouterr().out.split())


def test_a_rule_whose_contacts_are_all_in_has_no_border(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """In a radio that is not full; places that are free are told from contacts that stand behind."""
    path = settings_of(tmp_path)
    path.write_text(path.read_text().replace("contacts = 5", "contacts = 100"))
    summary = summary_of(path)
    rule = summary.rules[-1]
    assert rule.kept == rule.owned > 1
    monkeypatch.chdir(tmp_path)
    assert guarded(["why", "--rule", rule.name]) == ExitCode.DONE
    out = " ".join(capsys.readouterr().out.split())
    assert f"all {rule.owned} contacts that rule {rule.name!r} owns are kept, so it has no border here" in out
    assert guarded(["why", "--rule", rule.name, "--json"]) == ExitCode.DONE
    *_, before, last = json.loads(capsys.readouterr().out)
    free = f"{100 - summary.kept} places are free"
    assert last["to_change"].endswith(f"it is the last, and {free}.")
    assert before["to_change"].endswith(f"1 contact stands behind it, and {free}.")
