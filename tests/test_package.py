"""What people install: the locks name all that the project asks for, and the index page has no dead links."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path
from types import ModuleType

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
EXTRAS = PROJECT["project"]["optional-dependencies"]
GROUPS = PROJECT["dependency-groups"]
LOCKED = re.compile(r"^([A-Za-z0-9._-]+)==(\S+)(?: ; (.+?))? \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)", re.MULTILINE)


def locked(name: str) -> dict[str, set[str]]:
    """Versions of each package in a lock; every line of it belongs to one."""
    text = (ROOT / name).read_text(encoding="utf-8")
    found: dict[str, set[str]] = {}
    for match in LOCKED.finditer(text):
        found.setdefault(canonicalize_name(match[1]), set()).add(match[2])
    assert not LOCKED.sub("", text).strip()
    return found


def asked(*lists: list[str]) -> list[Requirement]:
    """All requirements; `pruner[extra]` stands for those of the extras."""
    found = []
    for requirement in (Requirement(text) for texts in lists for text in texts if isinstance(text, str)):
        own = requirement.name == "pruner"
        found += asked(*(EXTRAS[extra] for extra in requirement.extras)) if own else [requirement]
    return found


@pytest.mark.parametrize(
    ("name", "requirements"),
    [
        ("requirements.lock", asked(PROJECT["project"]["dependencies"], GROUPS["build"])),
        (
            "requirements-test.lock",
            asked(PROJECT["project"]["dependencies"], EXTRAS["test"], GROUPS["build"], GROUPS["in-place"]),
        ),
    ],
)
def test_a_lock_holds_what_the_project_asks_for(name: str, requirements: list[Requirement]) -> None:
    versions = locked(name)
    for requirement in requirements:
        for version in versions[canonicalize_name(requirement.name)]:
            assert requirement.specifier.contains(version), f"{requirement} in {name}: {version}"


def test_both_locks_name_the_same_versions() -> None:
    run, test = locked("requirements.lock"), locked("requirements-test.lock")
    assert {name: test[name] for name in run} == run


def test_what_builds_the_project_is_in_the_group_that_the_locks_hold() -> None:
    assert PROJECT["build-system"]["requires"] == GROUPS["build"]


def test_nobody_is_told_to_install_the_bare_name() -> None:
    """The name `pruner` on the Python package index is another project's."""
    told = re.compile(r"(?:pip|pipx|uv|uvx)\s[^\n`\"]*?(?<![\w./\\-])pruner(?:\[\w+\])?(?![\w./-])")
    texts = [*ROOT.glob("*.md"), *(ROOT / "pruner").rglob("*.py"), *(ROOT / "benchmarks").glob("*.*"), ROOT / "NOTICE"]
    found = [f"{path.name}: {match}" for path in texts for match in told.findall(path.read_text(encoding="utf-8"))]
    assert [text for text in found if "install" in text] == []


@pytest.fixture(scope="module")
def index() -> ModuleType:
    pytest.importorskip("hatchling")
    spec = importlib.util.spec_from_file_location("index_page", ROOT / ".ci" / "index_page.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def links(text: str) -> list[str]:
    return re.findall(r"\]\(([^)\s]+)\)", text)


def test_the_index_page_has_no_links_into_the_project(index: ModuleType) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "![pruner fit](fixtures/screenshots/terminal.svg)" in readme
    alone = index.index_page(readme)
    assert [target for target in links(alone) if not target.startswith("https://")] == []
    assert "*(pruner fit)*" in alone
    beside = index.index_page(readme, "https://example.org/raw/v1/")
    assert "![pruner fit](https://example.org/raw/v1/fixtures/screenshots/terminal.svg)" in beside
    assert len(links(beside)) == len(links(readme))
    assert all(target.startswith("https://") for target in links(beside))


def test_every_picture_of_the_readme_is_there() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    pictures = [target for target in links(readme) if not target.startswith("https://")]
    assert len(pictures) >= 3
    assert [target for target in pictures if not (ROOT / target).is_file()] == []


def test_the_build_puts_the_index_page_into_the_metadata(index: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("README_FILES_AT", "https://example.org/raw/v1")
    metadata: dict[str, dict[str, str]] = {}
    index.IndexPage(str(ROOT), {}).update(metadata)
    assert metadata["readme"]["content-type"] == "text/markdown"
    assert "https://example.org/raw/v1/fixtures/" in metadata["readme"]["text"]
