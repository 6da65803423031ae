"""What the README shows exists: its commands, the conditions of rules, the exit codes."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path
from typing import get_args

import pytest
import typer.main

from pruner.cli.app import commands as command_line
from pruner.layout.model import layout_of
from pruner.settings.load import load_settings
from pruner.settings.models import KeepRule, Order, Rule
from pruner.words.errors import ExitCode

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def between_markers(name: str) -> str:
    found = re.findall(rf"^<!-- {name} -->\n```sh\n(.*)\n```\n<!-- end -->$", README, re.MULTILINE)
    assert len(found) == 1
    return str(found[0])


def test_the_two_commands_stand_alone_between_their_markers() -> None:
    assert between_markers("demo command").endswith("pruner fit --settings demo/pruner.toml")
    assert between_markers("test command").endswith("python -m pytest")


def test_the_check_runs_the_test_command_word_for_word() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    extraction = re.search(r"^command=\$\((.*)\)$", script, re.MULTILINE)
    assert extraction is not None
    told = subprocess.run(["bash", "-c", extraction[1]], cwd=ROOT, capture_output=True, text=True, check=True, timeout=20)
    assert told.stdout.rstrip("\n") == between_markers("test command")
    assert 'bash -euo pipefail -c "$command"' in script


def shown_commands() -> list[list[str]]:
    code = re.findall(r"`([^`\n]+)`|^    (.+)$|^(python3 .+)$", README, re.MULTILINE)
    texts = [part.strip() for group in code for whole in group for part in whole.split("&&")]
    found = [re.match(r"(?:\S*/)?pruner ([a-z].*)$", text) for text in texts]
    return [match[1].split() for match in found if match]


def test_every_command_shown_exists() -> None:
    group = typer.main.get_command(command_line())
    shown = shown_commands()
    assert {words[0] for words in shown} == set(group.commands)  # type: ignore[attr-defined]
    for words in shown:
        command = group.commands[words[0]]  # type: ignore[attr-defined]
        if hasattr(command, "commands"):
            assert words[1] in command.commands, words
            command = command.commands[words[1]]
        options = {option for parameter in command.params for option in (*parameter.opts, *parameter.secondary_opts)}
        assert {word for word in words if word.startswith("--")} <= options, words


def test_the_settings_shown_are_legal(tmp_path: Path) -> None:
    """Every TOML passage, in a file with what it takes for granted around it."""
    passages = re.findall(r"^```toml\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    assert len(passages) >= 5
    for name in ("export.csv", "club.csv", "stations.csv"):
        (tmp_path / name).write_text("id\n2321001\n")
    for name in ("loan-handheld.layout.toml", "tour.gpx"):
        (tmp_path / name).write_text("")
    for passage in passages:
        if "[[column]]" in passage:
            layout_of(passage)
            continue
        text = passage
        if "[[source]]" not in text:
            text += '[[source]]\nname = "world"\nlocation = "stations.csv"\n'
        if "[[radio]]" not in text:
            radio = '[[radio]]\nname = "r"\n'
            text = radio + text if "[radio." in text else text + radio + "contacts = 1\n"
        if "rules = [" in text:
            text += '[home]\nlocator = "JN57"\n[[keep]]\nname = "club"\n[[keep]]\nname = "neighbours"\n'
        path = tmp_path / "pruner.toml"
        path.write_text(text, encoding="utf-8")
        load_settings(path)


def test_the_conditions_of_the_table_are_those_of_the_settings() -> None:
    table = README.split("| condition | matches |")[1].split("\n\n")[0]
    first_cells = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
    named = {word for cell in first_cells for word in re.findall(r"`([a-z_]+) = ", cell)}
    assert named == set(Rule.model_fields) - {"name"}


def test_the_options_of_a_keep_rule_are_those_of_the_settings() -> None:
    line = re.search(r"^Options of a keep rule: (.*)$", README, re.MULTILINE)
    assert line is not None
    options = set(re.findall(r"`([a-z_]+)`", line[1])) - set(get_args(Order))
    assert options == set(KeepRule.model_fields) - set(Rule.model_fields)


def test_the_exit_codes_are_those_of_the_errors() -> None:
    passage = re.search(r"^Exit codes: (.*?)\n\n", README, re.MULTILINE | re.DOTALL)
    assert passage is not None
    listed = [int(code) for code in re.findall(r"(?:^|· )(\d+) ", passage[1])]
    assert listed == [*(int(code) for code in ExitCode), 130]


@pytest.mark.parametrize("name", ["contacts.csv", "ledger.parquet", "rejected.csv", "summary.json", "report.html"])
def test_every_file_is_described(name: str) -> None:
    assert f"- `{name}`: " in README


def test_the_example_in_python_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    examples = re.findall(r"^```python\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    assert len(examples) == 1
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(compile(examples[0], "README.md", "exec"), names)
    assert "OE1AAA" in capsys.readouterr().out
    files = "contacts.csv, ledger.parquet, rejected.csv, report.html, summary.json"
    assert sorted(path.name for path in (tmp_path / "out-of-python").iterdir()) == files.split(", ")
    assert f"# {files}" in examples[0]
