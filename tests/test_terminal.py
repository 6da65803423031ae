"""What a terminal shows: progress on one line, nothing in a pipe, bold only where it is wanted."""

from __future__ import annotations

import io
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from pruner.cli.shared import ProgressLine
from pruner.cli.text import WIDTH, columns, paragraph, percent, shortened, table

pytestmark = pytest.mark.long


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_shows_rows_and_time_left_in_80_columns() -> None:
    now = 0.0
    terminal = Terminal()
    line = ProgressLine(terminal, lambda: now)
    line("reading world")
    now = 4.0
    line("reading world", rows=1_000_000, share=0.25)
    now = 4.1
    line("reading world", rows=1_100_000, share=0.27)
    now = 8.0
    line("writing", 0, 0)
    line.end()
    shown = [part.rstrip() for part in terminal.getvalue().split("\r") if part.strip()]
    assert shown == ["  reading world", "  reading world · 1,000,000 rows · 25%, about 12 s left", "  writing"]
    assert all(len(part) <= 79 for part in terminal.getvalue().split("\r"))
    assert terminal.getvalue().endswith("\r")


def test_progress_is_silent_in_a_pipe_and_escapes_names() -> None:
    pipe = io.StringIO()
    ProgressLine(pipe)("reading", 5, 0.5)
    assert pipe.getvalue() == ""
    terminal = Terminal()
    ProgressLine(terminal)("reading \x1b[2J")
    assert "\x1b" not in terminal.getvalue()


@pytest.mark.parametrize(
    ("share", "text"),
    [(None, "-"), (0.0, "0.0 %"), (0.5, "50.0 %"), (0.9996, "99.96 %"), (0.99999, "99.999 %"), (1.0, "100.0 %")],
)
def test_percent_never_looks_whole_when_it_is_not(share: float | None, text: str) -> None:
    assert percent(share) == text


#: Letters of several scripts, wide ones, marks, and what acts on a terminal.
WORDS = st.lists(
    st.sampled_from(["Ada", "Zoë", "Zoe\u0308", "東京都", "서울", "ﾄｳｷｮｳ", "नमस्ते", "\x1b[2J", "x" * 90]), max_size=40
).map(" ".join)


@pytest.mark.parametrize("text", ["Ada", "Zoë", "Zoe\u0308", "東京都", "서울 Seoul", "ﾄｳｷｮｳ", "１２", ""])
def test_columns_are_those_of_a_terminal(text: str) -> None:
    """The library rich, whose widths are those of wcwidth."""
    assert columns(text) == cell_len(text)


@given(WORDS, st.integers(5, 60))
def test_a_shortened_text_fits_and_is_the_longest_that_does(text: str, width: int) -> None:
    short = shortened(text, width)
    assert "\x1b" not in short
    assert width - 2 < columns(short) <= width or columns(short) == columns(shortened(text, 10_000))


@given(WORDS)
def test_a_paragraph_keeps_its_words_and_its_width(text: str) -> None:
    lines = paragraph(text, "  ").split("\n")
    assert " ".join(line.removeprefix("  ") for line in lines).split() == text.replace("\x1b", "\\x1b").split()
    assert all(columns(line) <= WIDTH or " " not in line.strip() for line in lines)
    heads = [line.split()[0] if line.strip() else "" for line in lines[1:]]
    assert all(columns(f"{line} {head}") > WIDTH for line, head in zip(lines, heads, strict=False))


def test_columns_of_a_table_stand_below_each_other() -> None:
    shown = table([("town", "stations"), ("東京都", "1,200"), ("Wien", "7")], right=(1,)).split("\n")
    assert shown == ["town    stations", "------  --------", "東京都     1,200", "Wien           7"]


def run_on_a_terminal(arguments: list[str], environment: dict[str, str]) -> str:
    """Standard output and error of a command, both on one pseudo-terminal."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "pruner", *arguments], stdin=theirs, stdout=theirs, stderr=theirs, env=environment
    )
    os.close(theirs)
    seen = b""
    try:
        while chunk := os.read(ours, 4096):
            seen += chunk
    except OSError:  # Linux reports the end of a pseudo-terminal so
        pass
    os.close(ours)
    assert process.wait(60) == 0, seen.decode()
    return seen.decode()


@pytest.mark.parametrize("no_color", ["", "1"])
def test_fit_on_a_terminal(tmp_path: Path, no_color: str) -> None:
    source = tmp_path / "stations.csv"
    source.write_text("id,callsign\n2320001,OE1AA\n2320002,OE2BB\n")
    environment = {**os.environ, "TERM": "xterm", "NO_COLOR": no_color}
    shown = run_on_a_terminal(["fit", str(source), "--contacts", "1", "--out", str(tmp_path / "out")], environment)
    assert "reading stations" in shown
    assert "next: pruner why" in shown
    assert ("\x1b[1m" in shown) == (no_color == "")
    lines = [line.split("\r")[-1] for line in re.sub(r"\x1b\[\d*m", "", shown).splitlines()]
    assert all(len(line) <= 80 for line in lines if str(tmp_path) not in line)


def test_fit_in_a_pipe_is_plain(tmp_path: Path) -> None:
    source = tmp_path / "stations.csv"
    source.write_text("id,callsign\n2320001,OE1AA\n")
    command = [sys.executable, "-m", "pruner", "fit", str(source), "--contacts", "1", "--out", str(tmp_path / "out")]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    assert "\r" not in done.stdout
    assert "radio: 1 of 1 contacts" in done.stdout
