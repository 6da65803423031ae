"""Layouts as a user meets them: every mistake at once, and the commands `layout check` and `layout learn`."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest
from commands import run

from pruner.cli.boundary import guarded
from pruner.layout.model import layout_of, load_layout
from pruner.words.errors import ExitCode, SettingsError

FIXTURES = Path(__file__).parent.parent / "fixtures" / "layouts"
EXAMPLES = sorted(FIXTURES.glob("*.toml"))
Capture = pytest.CaptureFixture[str]

MISTAKES = """\
[file]
delimeter = ";"
kind = "fixed"
quoting = "sometimes"
encoding = "cp1253x"
line_ending = "CRLF"
order = "callsgin"

[[column]]
title = "A"
value = "{calsign}"
width = 0

[[column]]
value = "{id"
pad = "centre"

[[colum]]
x = 1
"""


def problems(text: str, *, draft: bool = True) -> list[str]:
    with pytest.raises(SettingsError) as raised:
        layout_of(text, "x.toml", draft=draft)
    return list(raised.value.problems)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_the_examples_are_legal(path: Path, capsys: Capture) -> None:
    assert load_layout(path).columns
    code, out, err = run(capsys, "layout", "check", str(path))
    assert (code, err) == (ExitCode.DONE, "")
    assert max(map(len, out.splitlines()[1:])) <= 80
    code, out, _ = run(capsys, "layout", "check", str(path), "--json")
    assert json.loads(out)["column"]


def test_every_mistake_at_once() -> None:
    found = problems(MISTAKES)
    assert [line.split(": ")[1] for line in found] == [
        "file.delimeter",
        "file.quoting",
        "file.encoding",
        "file.line_ending",
        "file.order",
        "column[1].value",
        "column[1].width",
        "column[2].width",
        "column[2].title",
        "column[2].value",
        "column[2].pad",
        "colum",
    ]
    assert [int(line.split(":")[1]) for line in found] == [2, 4, 5, 6, 7, 11, 12, 14, 14, 15, 16, 18]
    assert found[0].endswith('unknown key; did you mean "delimiter"?')
    assert found[5].endswith('there is no field "calsign"; did you mean "callsign"?')
    assert found[-1].endswith('unknown key; did you mean "column"?')


@pytest.mark.parametrize(
    ("form", "column", "message"),
    [
        ("", "", "column: expected at least one [[column]] table"),
        ('delimiter = ";;"', 'value = "x"', "file.delimiter: expected one sign"),
        ('delimiter = "a"', 'value = "x"', "file.delimiter: expected one sign"),
        ('kind = "fixed"\ndelimiter = ";"', 'value = "x"\nwidth = 2', 'file.delimiter: has no meaning with kind = "fixed"'),
        ('encoding = "cp1252"\nbyte_order_mark = true', 'value = "x"', "file.byte_order_mark: there is no such mark in cp1252"),
        ('encoding = "utf-8-sig"', 'value = "x"', 'file.encoding: expected "utf-8" with byte_order_mark = true'),
        ("rows_per_file = 0", 'value = "x"', "file.rows_per_file: expected 1 or more, got 0"),
        ('ending = "a/b"', 'value = "x"', "file.ending: expected the ending of a file name"),
        ("", 'value = "a\\nb"', "column[1].value: expected text without line breaks"),
        ("", 'value = "{id}"\nwidth = "8"', 'column[1].width: expected a whole number, got "8"'),
        ("", 'value = "{id}"\npad = "left"', "column[1].pad: needs a width"),
        ("", 'value = "{id}"\nwidth = 9\npad_with = "0"', 'column[1].pad_with: needs pad = "left" or "right"'),
        ("", 'value = "{id}"\nwidth = 9\npad = "left"\npad_with = "é"', "column[1].pad_with: expected one printable ASCII"),
        ("", 'value = "x"\nfallback = "y"', "column[1].fallback: is never used"),
        ('encoding = "ascii"', 'value = "é {id}"', 'column[1].value: "é" cannot be written in ascii'),
        ('quoting = "none"', 'value = "{id}, {town}"', 'column[1].value: "," cannot be written with quoting = "none"'),
        ('quoting = "none"', "value = '\"{id}\"'", 'cannot be written with quoting = "none"'),
        ('quoting = "none"\ndelimiter = " "', 'value = "{id}"', "file.delimiter: spaces stand inside texts too"),
        (
            'quoting = "none"\ndelimiter = "_"',
            'value = "{id}"\nwidth = 9\npad = "left"\npad_with = "_"',
            'column[1].pad_with: "_" cannot be written with quoting = "none"',
        ),
        ('kind = "fixed"', 'value = "abcdef"\nwidth = 3', "column[1].value: is 6 units long, more than the width of 3"),
        ('encoding = "utf-16"\nwidth_unit = "bytes"\nkind = "fixed"', 'value = "x"\nwidth = 3', "expected a multiple of 2"),
        ('headings = "yes"', 'value = "x"', "file.headings: expected true or false"),
    ],
)
def test_single_mistakes(form: str, column: str, message: str) -> None:
    title = "" if "headings" in form or not column else '[[column]]\ntitle = "T"\n'
    body = f"[file]\n{form}\n" + (title or ("[[column]]\n" if column else "")) + column
    found = problems(body)
    assert any(message in line for line in found), found
    assert len(found) <= 2


def test_titles_of_fixed_files_must_fit() -> None:
    text = '[file]\nkind = "fixed"\n[[column]]\ntitle = "Too long"\nvalue = "{id}"\nwidth = 7\n'
    assert problems(text) == ["x.toml:4: column[1].title: is 8 units long, more than the width of 7"]


@pytest.mark.parametrize("text", ["[file", "a = ", "[[column]]\nvalue = {", '[column]\nvalue = "x"', "column = 3", "file = []"])
def test_odd_documents_are_one_line_each(text: str) -> None:
    assert all(line.startswith("x.toml") for line in problems(text))


def test_files_that_are_no_layouts(tmp_path: Path, capsys: Capture) -> None:
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b"# \xfc")
    for path, message in ((tmp_path / "none.toml", "no layout here"), (tmp_path, "cannot be read"), (latin, "not UTF-8")):
        code, out, err = run(capsys, "layout", "check", str(path))
        assert (code, out) == (ExitCode.SETTINGS, "")
        assert message in err
        assert len(err.splitlines()) == 1


def test_check_shows_mistakes_and_exits_with_2(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "x.toml"
    path.write_text(MISTAKES)
    code, out, err = run(capsys, "layout", "check", str(path))
    assert (code, out) == (ExitCode.SETTINGS, "")
    assert len(err.splitlines()) == 12


SAMPLE = "Wibble;Quux;Number\nAda;Graz;2320001\nBea;Linz;2320002\nCyd;Wels;2320003\n"


@pytest.fixture
def sample(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "export.csv"
    path.write_text(SAMPLE)
    return path


def values_of(text: str) -> list[str]:
    return [column.value for column in layout_of(text).columns]


def test_learn_prints_a_layout(sample: Path, capsys: Capture) -> None:
    code, out, err = run(capsys, "layout", "learn", str(sample))
    assert (code, err) == (ExitCode.DONE, "")
    assert values_of(out) == ["{first_name}", "{last_name}", "{id}"]
    assert out.count("# DOUBTFUL") == 2


def test_learn_writes_a_layout_once(sample: Path, capsys: Capture) -> None:
    arguments = ("layout", "learn", "export.csv", "--out", "new.toml", "--column", "2={town}", "--column", "1=first_name")
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (ExitCode.DONE, "new.toml\n")
    assert err == "The sample holds ASCII only; if other letters may be written, say how.\n"
    assert values_of((sample.parent / "new.toml").read_text()) == ["{first_name}", "{town}", "{id}"]
    code, _, err = run(capsys, *arguments)
    assert code == ExitCode.SETTINGS
    assert "new.toml: exists already" in err


def test_learn_names_doubts_on_standard_error(sample: Path, capsys: Capture) -> None:
    code, _, err = run(capsys, "layout", "learn", "export.csv", "--out", "new.toml")
    assert code == ExitCode.DONE
    assert [line.split(":")[0] for line in err.splitlines()[1:]] == ["column 1, 'Wibble'", "column 2, 'Quux'"]


@pytest.mark.parametrize("given", ["x", "0=a", "two={town}", "2={twon}", "2={", "9={id}"])
def test_learn_refuses_odd_answers(sample: Path, capsys: Capture, given: str) -> None:
    code, out, err = run(capsys, "layout", "learn", "export.csv", "--column", given)
    assert (code, out) == (ExitCode.SETTINGS, "")
    assert err.startswith("pruner: ")


def test_learn_asks_on_a_terminal(sample: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    errors = Terminal()
    monkeypatch.setattr("sys.stdin", Terminal("\n{twon}\ntown\n"))
    monkeypatch.setattr("sys.stderr", errors)
    with monkeypatch.context() as patched:
        patched.setattr("sys.stdout", Terminal())
        assert guarded(["layout", "learn", "export.csv"]) == ExitCode.DONE
        out = sys.stdout.getvalue()  # type: ignore[attr-defined]
    assert values_of(out) == ["{first_name}", "{town}", "{id}"]
    assert "DOUBTFUL:" not in out
    asked = errors.getvalue()
    assert "Column 1, 'Wibble'" in asked
    assert "'Ada', 'Bea', 'Cyd'" in asked
    assert 'there is no field "twon"; did you mean "town"?' in asked


@pytest.mark.parametrize("pipe", ["stdin", "stdout", "stderr"])
def test_nobody_is_asked_in_a_pipe(sample: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, pipe: str) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    for name in {"stdin", "stdout", "stderr"} - {pipe}:
        monkeypatch.setattr(f"sys.{name}", Terminal())
    if pipe == "stdin":
        monkeypatch.setattr("sys.stdin", io.StringIO())
    assert guarded(["layout", "learn", "export.csv", "--out", "new.toml"]) == ExitCode.DONE
    assert (sample.parent / "new.toml").read_text().count("# DOUBTFUL") == 2


def test_learn_shows_nothing_hostile(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "evil.csv"
    path.write_text("Num\x1b[2Jber,Na\u202eme,\u2028\n2320001,Eve\x1b]0;x\x07,\u200b\n2320002,B\u202e,c\n", encoding="utf-8")
    code, _, err = run(capsys, "layout", "learn", str(path))
    assert code == ExitCode.SETTINGS
    assert "expected text without line breaks and other control characters" in err


def test_a_sample_that_is_not_there(tmp_path: Path, capsys: Capture) -> None:
    code, out, err = run(capsys, "layout", "learn", str(tmp_path / "none.csv"))
    assert (code, out) == (ExitCode.SOURCE_MISSING, "")
    assert len(err.splitlines()) == 1


def test_what_a_sample_leaves_open_is_told(tmp_path: Path, capsys: Capture) -> None:
    sample = tmp_path / "sample.csv"
    sample.write_text("2321001~Anna\n2321002~Bert")
    code, _, err = run(capsys, "layout", "learn", str(sample), "--out", str(tmp_path / "made.toml"))
    assert code == 0
    assert "No column of ids was found" in err
    assert "The last line of the sample has no line ending" in err
    assert "The sample holds ASCII only" in err
