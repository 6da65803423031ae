"""Numbers of things on the command line: one reading for every option and question that takes one."""

from __future__ import annotations

import inspect
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from hypothesis import given
from hypothesis import strategies as st

from pruner.cli import questions
from pruner.cli.app import HOMES, homes_of
from pruner.cli.app import commands as command_line
from pruner.cli.boundary import guarded
from pruner.cli.init import Wishes
from pruner.cli.numbers import CountParser, CountsParser
from pruner.history.series import by_hand
from pruner.settings.load import settings_of
from pruner.words.counts import GROUP_SIGNS, count_between, count_of, counts_of
from pruner.words.errors import ExitCode, SettingsError

Capture = pytest.CaptureFixture[str]

#: Numeric options that take no number of things, with the reason.
NO_COUNTS = {
    ("fit", "serial"): "a baud rate",
    ("talkgroups", "mine"): "the number that a talkgroup bears",
    ("init", "talkgroup"): "the number that a talkgroup bears",
    ("heard show", "talkgroup"): "the number that a talkgroup bears",
    ("rollback", "to"): "the number that a version bears",
}
#: Options and arguments of plain text that hold no number of things.
TEXTS = {
    "contact", "rule", "radio", "country", "locator", "system", "source", "heard", "out", "zone", "before", "name", "at",
    "every", "accept", "address", "paths", "form", "column", "talkgroups", "dates", "day", "log",
}  # fmt: skip
#: Text with a number of things inside, tested on its own below.
MIXED = {("forecast", "snapshot"), ("limits", "snapshot")}
#: Questions of `init` that ask for no number of things.
OTHER_QUESTIONS = ("Where are you?", "Which directories", "Which talkgroups", "A file that", "Where shall")

FORMS = ["{0},{1}", "{0}.{1}", "{0} {1}", "{0}_{1}", "{0}'{1}", "{0}\u2019{1}", "{0}\u00a0{1}", "{0}\u2009{1}", "{0}\u202f{1}"]
DOUBTFUL = [
    "1.5", "20.00", "1,5", "2,00", "000", "0200", "1,500.000", "1.500,000", "2,00,000", "20_00", "0.500", "1.500k", "1,000k",
    "1m", "1.23456k", "k", "", "-5", "+5", "1e5", "5.", ".5", "1..500", "1, 500", "١٢٣", "12３", "inf", "five",
    "1 5", "9" * 400,
]  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_groups_of_three_digits(form: str) -> None:
    assert count_of(form.format("200", "000")) == 200_000
    assert count_of(form.format(form.format("1", "234"), "567")) == 1_234_567


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0", 0),
        ("7", 7),
        (" 200000 ", 200000),
        ("200k", 200000),
        ("200K", 200000),
        ("2M", 2000000),
        ("0.5M", 500000),
        ("1,5k", 1500),
        ("1.25M", 1250000),
        ("0k", 0),
    ],
)
def test_other_ways(text: str, number: int) -> None:
    assert count_of(text) == number


@pytest.mark.parametrize("text", DOUBTFUL)
def test_what_is_doubtful_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="expected a whole number such as"):
        count_of(text)


@given(st.integers(0, 10**17), st.sampled_from(GROUP_SIGNS))
def test_python_formats_what_is_read(number: int, sign: str) -> None:
    """Python's own format with groups is the other way."""
    assert count_of(str(number)) == count_of(f"{number:,}".replace(",", sign)) == number


@given(st.text(alphabet="0123456789 .,_'kKM-", max_size=12))
def test_a_number_is_read_as_its_digits_or_not_at_all(text: str) -> None:
    try:
        number = count_of(text)
    except ValueError:
        return
    digits = "".join(character for character in text if character.isdigit())
    assert text.strip()[-1] in "kKM" or number == int(digits)


def test_ranges_hold() -> None:
    assert count_between("1k", 1000, 1000) == 1000
    with pytest.raises(ValueError, match="expected 1,000 or more, got '999'"):
        count_between("999", 1000, 2000)
    with pytest.raises(ValueError, match="expected at most 2,000, got '2001'"):
        count_between("2001", 1000, 2000)


def test_in_lists_a_comma_stands_between_numbers_only() -> None:
    assert counts_of("50000, 100_000,200k,200.000", 1, 1 << 31) == [50_000, 100_000, 200_000, 200_000]
    for text in ("50,000,100,000", "0", "5,0", "100,50", "", "5,", "1.5", "5,-1", "200,000"):
        with pytest.raises(ValueError, match=r"write 50000,100000 or 50k,100k|expected a whole number"):
            counts_of(text, 1, 1 << 31)


def commands(of: typer.Typer, before: str = "") -> Iterator[tuple[str, Callable[..., Any]]]:
    for command in of.registered_commands:
        assert command.callback is not None
        yield f"{before}{command.name or command.callback.__name__}", command.callback
    for group in of.registered_groups:
        assert group.typer_instance is not None
        yield from commands(group.typer_instance, f"{group.name or group.typer_instance.info.name} ")


def parameters() -> Iterator[tuple[str, str, set[Any], Any]]:
    """Command, parameter, the plain types of its annotation, what typer knows of it."""
    for command, callback in commands(command_line()):
        hints = typing.get_type_hints(callback, include_extras=True)
        for name in inspect.signature(callback).parameters:
            kind, about = typing.get_args(hints[name])
            yield command, name, _plain(kind), about


def _plain(kind: Any) -> set[Any]:
    inner = typing.get_args(kind)
    return {kind} if not inner or typing.get_origin(kind) is typing.Literal else set().union(*map(_plain, inner))


def test_every_option_that_takes_a_number_of_things_has_the_one_parser() -> None:
    seen, unused = set(), dict(NO_COUNTS)
    for command, name, kinds, about in parameters():
        if kinds & {int, float} and (command, name) in NO_COUNTS:
            del unused[command, name]
        elif kinds & {int, float} or isinstance(about.parser, CountParser | CountsParser):
            assert isinstance(about.parser, CountParser | CountsParser), f"{command}: {name}"
            seen.add((command, name))
        elif str in kinds:
            assert name in TEXTS or (command, name) in MIXED, f"{command}: does {name} take a number of things?"
    assert not unused
    assert {
        ("demo", "stations"), ("fit", "contacts"), ("fit", "what_if"), ("init", "contacts"), ("init", "talkgroups"),
        ("talkgroups", "limit"), ("compare", "threshold"), ("forecast", "limit"), ("forecast", "interval"),
        ("limits", "more"), ("limits", "interval"),
        ("heard show", "days"), ("heard show", "count"), ("coverage", "limit"), ("coverage", "cuts"), ("coverage", "period"),
    } <= seen  # fmt: skip


COUNT_OPTIONS = sorted(
    (command, about.param_decls[0] if about.param_decls else f"--{name.replace('_', '-')}", about.parser.least)
    for command, name, _, about in parameters()
    if isinstance(about.parser, CountParser)
)


@pytest.mark.parametrize(("command", "option", "least"), COUNT_OPTIONS)
def test_every_command_refuses_what_is_doubtful(command: str, option: str, least: int, capsys: Capture) -> None:
    wrong = ["1.5", "20.00", "1,5", "2,00", *([str(least - 1)] if least else [])]
    for text in wrong:
        assert guarded([*command.split(), option, text]) == ExitCode.SETTINGS
        out, err = capsys.readouterr()
        assert (out, err.count("\n")) == ("", 1)
        assert err.startswith(f"pruner: Invalid value for '{option}': expected ")
        assert repr(text) in err


def test_every_question_that_asks_for_a_number_of_things(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked: dict[str, Callable[[str], Any]] = {}

    def note(question: str, parse: Callable[[str], Any], default: str | None = None) -> Any:
        asked[question] = parse
        return (None, None)

    monkeypatch.setattr(questions, "_asked", note)
    monkeypatch.setattr(questions, "_ask_columns", lambda wishes, folder, given: None)
    questions.ask(Wishes(), tmp_path, [])
    counts = [question for question in asked if not question.startswith(OTHER_QUESTIONS)]
    assert counts == ["What does your radio hold? Contacts, and talkgroups if you know"]
    for question in counts:
        for form in FORMS:
            assert asked[question](form.format("200", "000")) == (200_000, None)
        for text in ("1.5", "20.00", "1,5", "2,00"):
            with pytest.raises(ValueError, match="one or two whole numbers"):
                asked[question](text)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("200000 10000", (200000, 10000)),
        ("200 000 10 000", (200000, 10000)),
        ("200,000, 10,000", (200000, 10000)),
        ("200k / 10k", (200000, 10000)),
        ("200.000; 500", (200000, 500)),
        ("9", (9, None)),
    ],
)
def test_what_a_radio_holds(text: str, numbers: tuple[int, int | None]) -> None:
    assert questions._limits(text) == numbers


def test_one_number_or_two_is_asked() -> None:
    with pytest.raises(ValueError, match="is that one number or two\\? Write 2500, or the two with ; between"):
        questions._limits("2 500")


@pytest.mark.parametrize("limits", ["50,000,100,000", "100000,50000", "0", "000", "1.5"])
def test_what_if_refuses_lists_that_were_cut_in_the_wrong_places(limits: str, capsys: Capture) -> None:
    assert guarded(["fit", "stations.csv", "--contacts", "5", "--what-if", limits]) == ExitCode.SETTINGS
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "50k,100k" in err or "expected a whole number" in err


def test_contacts_with_groups_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    monkeypatch.chdir(tmp_path)
    rows = "".join(f"{2320001 + place},OE1A{place:04},Ada,Austria\n" for place in range(1300))
    Path("stations.csv").write_text("id,callsign,name,country\n" + rows)
    assert guarded(["fit", "stations.csv", "--contacts", "1.200", "--json"]) == ExitCode.DONE
    assert '"kept": 1200' in capsys.readouterr().out
    assert guarded(["fit", "stations.csv", "--contacts", "5", "--what-if", "1k,1.200", "--json"]) == ExitCode.DONE
    told = capsys.readouterr().out
    assert '"kept": 1000' in told
    assert '"kept": 1200' in told


def test_snapshots_take_the_same_numbers() -> None:
    series = by_hand(["2024-01-01=180.000", "2025-01-01=200k"])
    assert series.count.tolist() == [180_000, 200_000]
    with pytest.raises(SettingsError, match="expected a date and a count of stations"):
        by_hand(["2024-01-01=1.5"])


def test_settings_take_whole_numbers_of_toml_only() -> None:
    text = '[[source]]\nname = "w"\nlocation = "w.csv"\n[[keep]]\nname = "all"\n[[radio]]\nname = "r"\ncontacts = {}\n'
    assert settings_of(Path("s.toml"), text.format("200_000")).radios[0].contacts == 200_000
    for value in ('"200.000"', "200.000", '"200k"', '"200000"'):
        with pytest.raises(SettingsError, match=r"s.toml:8: radio\[1\].contacts: expected a whole number, got "):
            settings_of(Path("s.toml"), text.format(value))


def test_a_command_is_made_without_the_others() -> None:
    made = {home: [name for name, _ in commands(command_line([home]))] for home in HOMES}
    groups = {"heard", "layout"}
    assert {home: list(dict.fromkeys(name.split()[0] for name in names if name != "demo")) for home, names in made.items()} == {
        home: list(names) for home, names in HOMES.items()
    }
    assert all(" " in name for home in groups for name in made[home] if name != "demo")
    assert homes_of(["rollback", "--settings", "x"]) == ("refresh",)
    for whole in ([], ["--help"], ["fitt"], ["demo", "x"]):
        assert homes_of(whole) == tuple(HOMES)
