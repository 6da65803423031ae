"""The text of the page: what may run in it, that names stay text, that nothing personal is in it."""

from __future__ import annotations

import base64
import hashlib
import json
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from explore_worlds import RADIO, world

from pruner.ask.explore import explore
from pruner.pages.explore_page import FIRST_LINE, explore_page, in_page
from pruner.settings.toml_text import toml_value


class Elements(HTMLParser):
    """All start tags with their attributes, and the text inside scripts and styles (elements of raw text)."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.raw: list[tuple[str, dict[str, str | None], str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][0] in ("script", "style") and data.strip():
            self.raw.append((*self.tags[-1], data))


def page(**changes: Any) -> str:
    facts = {
        "radio": "r", "contacts": 3, "keep_free": 0, "carried": 0, "left_out": 0, "table": [], "order_by_name": False,
        "several_radios": False, "drop_name": '"d"', "rules": [], "combinations": [], "countries": [], "calls": None,
    }  # fmt: skip
    return explore_page(facts | changes, {"contacts": np.array([1, 2], dtype=np.int64)})


def hash_of(text: str) -> str:
    """A source expression for inline code: W3C Content Security Policy Level 3, section 2.3.1."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def test_only_the_one_script_and_the_one_style_may_run() -> None:
    found = Elements(page())
    policy = next(one["content"] for tag, one in found.tags if tag == "meta" and "http-equiv" in one) or ""
    rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    code = [text for tag, attributes, text in found.raw if tag == "script" and "type" not in attributes]
    styles = [text for tag, _, text in found.raw if tag == "style"]
    assert len(code) == len(styles) == 1
    assert rules == {
        "default-src": "'none'",
        "script-src": hash_of(code[0]),
        "style-src": hash_of(styles[0]),
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    assert "eval(" not in code[0]
    assert "innerHTML" not in code[0]


def test_nothing_is_fetched_and_no_attribute_is_code() -> None:
    for tag, attributes in Elements(page()).tags:
        assert tag not in ("link", "img", "iframe", "object", "base", "form")
        assert not any(name.startswith("on") or name in ("style", "src", "href", "action") for name in attributes), tag


@pytest.mark.parametrize(
    "name",
    [
        "</script><script>alert(1)</script>",
        "<!--<script>",
        "]]>",
        "a\u202eb",
        "\u2028\u2029",
        "&lt;b&gt;",
        "'\"\\",
        "{{ 7 * 7 }}",
    ],
)
def test_hostile_text_stays_text(name: str) -> None:
    facts = {"rules": [{"name": name}], "radio": name}
    found = Elements(page(**facts))
    plain = Elements(page())
    assert [tag for tag, _ in found.tags] == [tag for tag, _ in plain.tags]
    data = next(text for tag, attributes, text in found.raw if attributes.get("id") == "facts")
    assert json.loads(data)["rules"][0]["name"] == name
    assert not set("<>&\u2028\u2029") & set(in_page(facts))


def test_the_page_begins_as_it_is_known_again_and_is_always_the_same() -> None:
    assert page().startswith(FIRST_LINE)
    assert page() == page()


def test_nobody_stands_in_the_page(tmp_path: Path) -> None:
    settings_file = world(tmp_path, share=0.05)
    written = explore(settings_file, None, tmp_path / "explore.html").path.read_text(encoding="utf-8")
    rows = [line.split(",") for line in (tmp_path / "stations.csv").read_text().splitlines()[1:]]
    assert len(rows) > 500
    facts, numbers = written.split('id="facts">')[1].split('id="numbers">')
    for number, callsign, _, town in rows:
        assert number not in facts
        assert callsign not in facts
        assert not town or town not in facts
    assert numbers.split("<")[0].strip().isprintable()
    assert RADIO in facts
    assert str(tmp_path) not in written


@pytest.mark.parametrize(
    "value",
    ["", 'a"b\\c', "tab\tnew\nline", "\x7f", "é🙂", 1, -5, 10**18, 1.5, 1e300, True, False, [], ["a", 1], [[1], ["x"]],
     {"a b": 1, "c": {"d": [True]}}, {}],
)  # fmt: skip
def test_values_are_written_as_toml(value: Any) -> None:
    import tomllib

    assert tomllib.loads(f"key = {toml_value(value)}") == {"key": value}
