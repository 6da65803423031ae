"""The summary as a model: real ones validate, are read back as they were, and every version is read or refused in one line.

The judge of the JSON Schemas is `jsonschema`, the reference library of the standard's authors for Python (draft 2020-12).
"""

from __future__ import annotations

import inspect
import json
import subprocess
import sys
import tarfile
import types
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, get_args, get_type_hints

import pytest
from jsonschema import Draft202012Validator
from pydantic import ValidationError
from test_calls_to_come import settings_of
from test_radios_in_bytes import LEVELS, MEMORY

from pruner.account import coverage, parts, write_schema
from pruner.account import summary as of_contacts
from pruner.account import talkgroup_summary as of_talkgroups
from pruner.account.parts import Part
from pruner.account.summary import Summary
from pruner.account.talkgroup_summary import TalkgroupSummary
from pruner.account.write_schema import SCHEMAS, schema_text
from pruner.ask import story
from pruner.ask.story import Story
from pruner.convert.convert import convert
from pruner.groups import job_of_settings, run_talkgroups
from pruner.job import run
from pruner.logs.fold import fold_all
from pruner.settings.load import load_settings
from pruner.words.errors import InputRefusedError

ROOT = Path(__file__).parent.parent
LAYOUT = ROOT / "fixtures" / "layouts" / "base-station.layout.toml"
ARCHIVES = sorted((ROOT / "fixtures" / "releases").glob("*.tar.gz"))
MODULES = (parts, coverage, of_contacts, of_talkgroups, story)
CLASSES = [
    one
    for module in MODULES
    for one in vars(module).values()
    if inspect.isclass(one) and issubclass(one, Part) and one.__module__ == module.__name__
]
#: What 0.1.0 wrote of the files of sources and nothing since: the day on which a refresh accepted them.
WITHDRAWN = {"date"}
#: Kinds of fits, and what stands in the summary of each besides what stands in all.
KINDS = {
    "plain": ("drop_rules", "rules", "cut", "rejected_reasons"),
    "logs": ("coverage",),
    "bytes": ("memory",),
    "layout": ("layout", "preview"),
    "list": ("lists",),
    "conversion": ("layout", "sources"),
    "talkgroups": ("heard", "cut", "lists"),
}
STATIONS = """\
id,callsign,name,town,country
2320001,OE1AAA,Anna Berg,Ried,Austria
2320002,OE2BBB,Bert Tal,"=HYPERLINK(""x"")",Austria
2620001,DL1CCC,Großmann,Zürich,Germany
2620002,DL2DDD,Dora,Ulm,Germany
2620002,DL2DDD,Dora,Ulm,Germany
seven,DL3EEE,Emil,Ulm,Germany
"""
SOURCE = '[[source]]\nname = "world"\nlocation = "stations.csv"\n'
RULES = '[[drop]]\nname = "asked"\nids = [2320001]\n[[keep]]\nname = "home"\ncountries = ["AT"]\n[[keep]]\nname = "the rest"\n'
RADIO = '[[radio]]\nname = "r"\n'


def fit(folder: Path, text: str) -> tuple[Summary, Path]:
    (folder / "stations.csv").write_text(STATIONS, encoding="utf-8")
    (folder / "pruner.toml").write_text(text, encoding="utf-8")
    result = run(load_settings(folder / "pruner.toml"))
    return result.summaries[0], result.folders[0] / "summary.json"


def with_logs(folder: Path) -> tuple[Summary, Path]:
    """The second run knows the directory of the first, so that there is a share to come with its interval."""
    run(load_settings(settings_of(folder, 70)))
    result = run(load_settings(settings_of(folder, 70 + 28)))
    return result.summaries[0], result.folders[0] / "summary.json"


def converted(folder: Path) -> tuple[Summary, Path]:
    (folder / "old.csv").write_text(STATIONS, encoding="utf-8")
    result = convert(folder / "old.csv", LAYOUT, folder / "out")
    return result.summary, folder / "out" / "summary.json"


def of_groups(folder: Path) -> tuple[TalkgroupSummary, Path]:
    (folder / "groups.csv").write_text("Group,Name\n91,World\n232,Austria\n262,Germany\n", encoding="utf-8")
    lines = [f"2320001,{group},2026-06-01T12:00:{at:02}Z\n" for at, group in enumerate((91, 232, 5))]
    (folder / "log.csv").write_text("id,talkgroup,time\n" + "".join(lines), encoding="utf-8")
    log = '[[heard]]\nlocation = "log.csv"\n'
    (folder / "stations.csv").write_text(STATIONS, encoding="utf-8")
    text = f"{SOURCE}{log}[talkgroups]\nmine = [91, 7]\nlist = 'groups.csv'\n{RADIO}contacts = 9\ntalkgroups = 2\n"
    (folder / "pruner.toml").write_text(text, encoding="utf-8")
    settings = load_settings(folder / "pruner.toml")
    fold_all(settings)
    result = run_talkgroups(job_of_settings(settings))
    return result.summaries[0], result.folders[0] / "summary.json"


def made(kind: str, folder: Path) -> tuple[Summary | TalkgroupSummary, Path]:
    match kind:
        case "plain":
            return fit(folder, f"{SOURCE}{RULES}{RADIO}contacts = 2\n")
        case "logs":
            return with_logs(folder)
        case "bytes":
            return fit(folder, SOURCE + RULES + RADIO + MEMORY.format(bytes=150, page=128) + LEVELS)
        case "layout":
            return fit(folder, f'{SOURCE}{RADIO}contacts = 9\nlayout = "{LAYOUT}"\n')
        case "list":
            (folder / "friends.csv").write_text("id,callsign\n2320001,OE1AAA\n", encoding="utf-8")
            return fit(folder, f'{SOURCE}[[keep]]\nname = "friends"\nlist = "friends.csv"\n{RADIO}contacts = 9\n')
        case "conversion":
            return converted(folder)
        case _:
            return of_groups(folder)


@pytest.fixture(scope="module", params=KINDS)
def real(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Summary | TalkgroupSummary, Path]:
    """The summary of a real fit and its summary.json."""
    summary, path = made(request.param, tmp_path_factory.mktemp(request.param))
    document = summary.document()
    assert [key for key in KINDS[request.param] if not document[key]] == []
    return summary, path


@cache
def validator(model: type[Part]) -> Draft202012Validator:
    (path,) = (path for path, described in SCHEMAS.items() if described is model)
    schema = json.loads(path.read_bytes())
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def parts_of(value: object) -> Iterator[Part]:
    """The models in a model, itself among them."""
    if isinstance(value, Part):
        yield value
        for name in type(value).model_fields:
            yield from parts_of(getattr(value, name))
    elif isinstance(value, tuple | list):
        for one in value:
            yield from parts_of(one)
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from parts_of(one)


def test_the_file_is_the_summary_and_validates(real: tuple[Summary | TalkgroupSummary, Path]) -> None:
    summary, path = real
    document = json.loads(path.read_bytes())
    assert path.read_text(encoding="utf-8") == summary.text()
    assert document == summary.document()
    assert [error.message for error in validator(type(summary)).iter_errors(document)] == []


def test_reading_back_gives_the_same(real: tuple[Summary | TalkgroupSummary, Path]) -> None:
    summary, path = real
    assert type(summary).model_validate(json.loads(path.read_bytes())) == summary
    assert type(summary).model_validate_json(path.read_bytes()) == summary
    if isinstance(summary, Summary):
        assert Summary.load(path.parent) == summary
        assert Summary.parse(path.read_text(encoding="utf-8"), "here") == summary


def test_the_schema_refuses_what_the_model_refuses(real: tuple[Summary | TalkgroupSummary, Path]) -> None:
    """Each key of the first level with a value of another type, and each that must be there left out."""
    summary, _ = real
    judge, document = validator(type(summary)), summary.document()
    for key, field in type(summary).model_fields.items():
        name = field.alias or key
        changed = [{**document, name: 0.5}]
        if field.is_required():
            changed.append({other: value for other, value in document.items() if other != name})
        for one in changed:
            assert not judge.is_valid(one), name
            with pytest.raises(ValidationError):
                type(summary).model_validate(one)


def test_what_a_later_version_adds_is_ignored(real: tuple[Summary | TalkgroupSummary, Path]) -> None:
    """A key that this version does not know, in every table of the file."""
    summary, _ = real

    def more(value: object) -> object:
        if isinstance(value, Part):
            fields = type(value).model_fields
            known = {field.alias or name: more(getattr(value, name)) for name, field in fields.items()}
            return {**known, "of a later version": {"a": [1]}}
        if isinstance(value, tuple):
            return [more(one) for one in value]
        if isinstance(value, Mapping):
            return {key: more(one) for key, one in value.items()}
        return value

    later = json.dumps(more(summary))
    assert later.count("of a later version") == len(list(parts_of(summary))) > 5
    assert type(summary).model_validate_json(later) == summary


def test_models_are_frozen(real: tuple[Summary | TalkgroupSummary, Path]) -> None:
    for part in parts_of(real[0]):
        for name in type(part).model_fields:
            with pytest.raises(ValidationError, match="frozen"):
                setattr(part, name, getattr(part, name))


def test_nothing_in_a_summary_can_be_changed(real: tuple[Summary | TalkgroupSummary, Path]) -> None:
    """Made by a run and read back: tables are read-only, everything else is a value."""

    def walk(value: object) -> Iterator[object]:
        yield value
        if isinstance(value, Part):
            inner = [getattr(value, name) for name in type(value).model_fields]
        else:
            inner = list(value.values()) if isinstance(value, Mapping) else list(value) if isinstance(value, tuple) else []
        for one in inner:
            yield from walk(one)

    summary, path = real
    for one in (summary, type(summary).model_validate_json(path.read_bytes())):
        kinds = {type(value) for value in walk(one) if not isinstance(value, Part)}
        assert MappingProxyType in kinds
        assert kinds <= {MappingProxyType, tuple, str, int, float, bool, type(None)}
    assert type(summary).model_validate(summary.document()) == summary


@pytest.mark.parametrize("path", SCHEMAS, ids=lambda path: path.name)
def test_the_schema_that_ships_is_that_of_the_model(path: Path) -> None:
    assert path.read_text(encoding="utf-8") == schema_text(SCHEMAS[path])


def test_the_command_writes_the_very_files(tmp_path: Path) -> None:
    """In a copy of the module, since it writes beside itself."""
    copy = tmp_path / "write_schema.py"
    copy.write_bytes(Path(write_schema.__file__).read_bytes())
    subprocess.run([sys.executable, copy], check=True, timeout=60, cwd=ROOT, env={"PYTHONPATH": str(ROOT), "PATH": ""})
    assert {path.name: path.read_bytes() for path in tmp_path.glob("*.json")} == {
        path.name: path.read_bytes() for path in SCHEMAS
    }


@pytest.mark.parametrize("archive", ARCHIVES, ids=lambda path: path.name)
def test_summaries_of_earlier_releases_are_read(archive: Path) -> None:
    """Whatever they say comes back as they said it, but for what is said no more."""

    def same(old: object, new: object) -> bool:
        if isinstance(old, dict):
            kept = old.keys() - WITHDRAWN
            return isinstance(new, dict) and all(key in new and same(old[key], new[key]) for key in kept)
        if isinstance(old, list):
            return isinstance(new, list) and len(old) == len(new) and all(map(same, old, new))
        return old == new

    seen: set[type[Part]] = set()
    with tarfile.open(archive) as held:
        for member in held.getmembers():
            if member.isfile() and member.name.endswith("/summary.json"):
                file = held.extractfile(member)
                assert file is not None
                data = file.read()
                model = TalkgroupSummary if "/talkgroups/" in member.name else Summary
                read = model.model_validate_json(data)
                assert same(json.loads(data), read.document()), member.name
                assert read.read == read.kept + read.dropped_rows + read.rejected
                seen.add(model)
    assert seen == {Summary, TalkgroupSummary}


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return made("plain", tmp_path_factory.mktemp("broken"))[0].document()


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"read": "many"}, "read"),
        ({"read": None}, "read"),
        ({"kept": 1.5}, "kept"),
        ({"limit": []}, "limit"),
        ({"sources": [{"name": "world", "rows": 1}]}, "sources.0.account"),
        ({"countries": {"A\nB\x1b[2J\u202e": "x"}}, "countries.A\\nB\\x1b[2J\\u202e"),
    ],
)
def test_a_broken_summary_is_one_clear_line(document: dict[str, Any], changes: dict[str, object], key: str) -> None:
    with pytest.raises(InputRefusedError) as caught:
        Summary.parse(json.dumps({**document, **changes}), "out/r/summary.json")
    said = str(caught.value)
    assert said.startswith(f"out/r/summary.json: is not the summary of a fit ('{key}': ")
    assert said.endswith("; fit again")
    assert said.isprintable()


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b"null", b"{}", b"\xff\xfe", b"\x00"])
def test_what_is_no_summary_is_one_clear_line(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "summary.json").write_bytes(data)
    with pytest.raises(InputRefusedError) as caught:
        Summary.load(tmp_path)
    said = str(caught.value)
    assert said.startswith(f"{tmp_path / 'summary.json'}: is not the summary of a fit (")
    assert said.isprintable()


def test_a_folder_without_a_summary_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(
        InputRefusedError, match=r"summary\.json: cannot be read \(No such file or directory\); run the fit again$"
    ):
        Summary.load(tmp_path)


def untyped(hint: object) -> bool:
    """Whether a type says nothing somewhere: `Any`, or a container that does not say of what."""
    if hint is Any or hint in (dict, list, tuple, set, frozenset):
        return True
    return any(untyped(one) for one in get_args(hint) if one is not Ellipsis)


def test_no_annotation_is_any() -> None:
    assert untyped(dict[str, Any] | None)
    assert untyped(tuple[dict, ...])
    assert not untyped(dict[str, tuple[int, ...]] | None)
    assert {Summary, TalkgroupSummary, Story} < set(CLASSES)
    for one in CLASSES:
        assert one.model_config["frozen"] is True
        wrong = [name for name, field in one.model_fields.items() if untyped(field.annotation)]
        for name, member in list(vars(one).items()):
            function = member.fget if isinstance(member, property) else getattr(member, "__func__", member)
            if isinstance(function, types.FunctionType) and not name.startswith("_"):
                hints = get_type_hints(function)
                assert "return" in hints
                wrong += [f"{name} {what}" for what, hint in hints.items() if untyped(hint)]
        assert wrong == [], one
