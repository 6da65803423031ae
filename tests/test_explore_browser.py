"""The page of explore in a real browser: what it tells is what a fit does with the settings that it copies."""

from __future__ import annotations

import contextlib
import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from explore_worlds import DROPS, HOME, RADIO, fitted, pasted, world

from pruner.account.summary import Summary
from pruner.ask.explore import explore
from pruner.pages.explore_page import in_page
from pruner.settings.load import load_settings

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
).split()
pytestmark = [pytest.mark.long, pytest.mark.skipif(not CHROMIUM.exists(), reason="needs the browser at /usr/bin/chromium")]
EXACT = ["club", 'heard "lately"', "home", "neighbours", "Europe", "repeaters", "far"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    playwright = pytest.importorskip("playwright.sync_api", reason="needs playwright")
    with playwright.sync_playwright() as started:
        running = started.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield running
        running.close()


@pytest.fixture(scope="module")
def settings_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return world(tmp_path_factory.mktemp("world"))


@pytest.fixture(scope="module")
def page_file(settings_file: Path) -> Path:
    return explore(settings_file, None, settings_file.parent / "explore.html").path


@contextlib.contextmanager
def opened(browser: Any, file: Path, **options: Any) -> Iterator[Any]:
    """The page; ends with the proof that it asked for nothing and nothing went wrong in it."""
    page = browser.new_page(**options)
    asked: list[str] = []
    wrong: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: wrong.append(message.text))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(file.as_uri())
    page.wait_for_selector("#all:not([hidden])")
    yield page
    assert asked == [file.as_uri()]
    assert not wrong
    page.close()


def order_of(page: Any) -> list[str]:
    names: list[str] = page.locator("#rules bdi").all_text_contents()
    return names


def put_in_order(page: Any, wanted: list[str]) -> None:
    for place, name in enumerate(wanted):
        for _ in range(order_of(page).index(name) - place):
            page.get_by_role("button", name=f"Move {name} up", exact=True).dispatch_event("click")
    assert order_of(page) == wanted


def leave_out(page: Any, code: str) -> None:
    page.get_by_role("checkbox", name=re.compile(rf"\({code}\)$")).check()


def number(text: str) -> int:
    return int(text.replace(",", ""))


def shown(page: Any) -> dict[str, Any]:
    """Everything that the page tells, as numbers."""
    rules = {}
    for name, note in zip(order_of(page), page.locator(".rule-note").all_text_contents(), strict=True):
        kept, owned = re.search(r"([\d,]+) of ([\d,]+) kept", note).groups()  # type: ignore[union-attr]
        rules[name] = (number(kept), number(owned))
    countries = {}
    for row in page.locator("#countries tr").all_text_contents():
        name, figures = re.fullmatch(r"(.*\([A-Z]{2}\)|unknown country)(.*)", row).groups()  # type: ignore[union-attr]
        countries[name[-3:-1] if name.endswith(")") else "unknown"] = figures
    kept = [number(cell) for cell in page.locator("#countries td:last-child").all_text_contents()]
    account = page.locator("#account tr").evaluate_all("rows => rows.map(row => [...row.children].map(one => one.textContent))")
    return {
        "kept": number(page.inner_text("#kept")),
        "rules": rules,
        "countries": {code: count for code, count in zip(countries, kept, strict=True) if count},
        "account": {word: number(count) for word, count in account},
        "cut": page.inner_text("#cut"),
        "shares": {
            name: page.inner_text(f"#share-{name}") for name in ("all", "mine") if page.locator(f"#share-{name}").count()
        },
    }


def assert_same(told: dict[str, Any], summary: Summary) -> None:
    """The page against summary.json of a real fit with the settings that the page copied."""
    own = [rule for rule in summary.rules if rule.name != "carried entries"]
    assert told["kept"] == summary.kept == told["account"]["kept"]
    assert told["rules"] == {rule.name: (rule.kept, rule.owned) for rule in own}
    assert list(told["rules"]) == [rule.name for rule in own]
    assert told["countries"] == summary.countries
    for word in ("over limit", "rule full", "no rule", "left out"):
        # Entries that the radio carries and that have no room are no contacts of a directory.
        carried = sum(rule.owned - rule.kept for rule in summary.rules if rule.name == "carried entries")
        assert told["account"][word] + (carried if word == "over limit" else 0) == summary.dropped.get(word, 0), word
    assert (summary.cut is None) == ("falls inside" not in told["cut"])
    if summary.cut:
        assert f"“{summary.cut.rule}”: {summary.cut.kept:,} of " in told["cut"]
    for name, share in told["shares"].items():
        assert summary.coverage is not None
        real = summary.coverage.mine if name == "mine" else summary.coverage.all
        assert real is not None
        assert real.share is not None
        assert float(share.removesuffix(" %")) == pytest.approx(100 * real.share, abs=0.1001)


def with_copied_settings(page: Any, settings_file: Path, name: str) -> Path:
    copied = page.locator("#settings").input_value()
    target = settings_file.with_name(f"{name}.toml")
    target.write_text(pasted(settings_file.read_text(encoding="utf-8"), copied), encoding="utf-8")
    return target


def try_settings(browser: Any, settings_file: Path, page_file: Path, seed: int) -> None:
    draw = random.Random(seed)
    order = draw.sample(EXACT, len(EXACT))
    limit = draw.choice((0, 8, draw.randrange(10, 2000), draw.randrange(1000, 9000), draw.randrange(3000, 12000), 20_000))
    out = draw.sample(("US", "IT", "DE", "JP", "FR"), draw.randrange(0, 3))
    with opened(browser, page_file) as page:
        put_in_order(page, order)
        page.locator("#limit").fill(str(limit))
        for code in out:
            leave_out(page, code)
        told = shown(page)
        target = with_copied_settings(page, settings_file, f"try-{seed}")
    loaded = load_settings(target)
    assert [rule.name for rule in loaded.keep] == order
    assert loaded.radios[0].contacts == limit
    assert loaded.drop[0].countries == (tuple(sorted(out)) if out else None)
    before = {rule.name: rule for rule in load_settings(settings_file).keep}
    assert {rule.name: rule for rule in loaded.keep} == before
    assert_same(told, fitted(target))


@pytest.mark.parametrize("seed", range(2))
def test_random_settings_give_what_a_fit_gives(browser: Any, settings_file: Path, page_file: Path, seed: int) -> None:
    try_settings(browser, settings_file, page_file, seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 125))
def test_many_random_settings_give_what_a_fit_gives(browser: Any, settings_file: Path, page_file: Path, seed: int) -> None:
    try_settings(browser, settings_file, page_file, seed)


def test_untouched_it_tells_the_settings_of_the_file(browser: Any, settings_file: Path, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        told = shown(page)
        assert page.locator("#settings").input_value() == "# Nothing is different from the settings of the file.\n"
    assert_same(told, fitted(settings_file))


def test_the_limit_among_those_who_call_most(browser: Any, settings_file: Path, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        put_in_order(page, ["Europe", *(name for name in EXACT if name != "Europe")])
        page.locator("#limit").fill(str(7 + 7 + 3))  # kept free, carried, and the three who called most
        told = shown(page)
        target = with_copied_settings(page, settings_file, "most")
    assert told["rules"]["Europe"][0] == 3
    assert float(told["shares"]["all"].removesuffix(" %")) > 3
    assert_same(told, fitted(target))


def test_a_limit_without_a_figure_says_why_of_itself(browser: Any, page_file: Path, tmp_path: Path) -> None:
    """Why the radio's own limit has none, or nothing where it has one, is no reason for another."""
    head, rest = page_file.read_text().split('id="facts">', 1)
    facts, rest = rest.split("</script>", 1)
    told = json.loads(facts)
    ends = [{"contacts": 1, "share": None, "low": None, "high": None}, {"contacts": 4, "share": 0.5, "low": 0.4, "high": 0.6}]
    told["to_come"] = {**told["to_come"], "why": "of its own", "by_limit": ends}
    file = tmp_path / "page.html"
    file.write_text(f'{head}id="facts">{in_page(told)}</script>{rest}')
    with opened(browser, file) as page:
        shown = []
        for room in (0, 2, 5):
            page.locator("#limit").fill(str(told["keep_free"] + room))
            shown.append([page.locator(f"#{name}-ahead").text_content() for name in ("share", "note")])
    assert shown == [
        ["not known", "below 1 contact"],
        ["no figure", "the logs tell too little, at 1 contact"],
        ["50.0 %", "40.0 to 60.0, at 4 contacts"],
    ]


def test_what_was_tried_can_be_taken_back(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        before = shown(page)
        put_in_order(page, list(reversed(EXACT)))
        page.locator("#limit").fill("777")
        leave_out(page, "DE")
        assert shown(page) != before
        page.get_by_role("button", name="Back to the settings of the file").click()
        assert shown(page) == before
        assert page.locator("#limit").input_value() == "9000"


def test_rules_are_dragged_and_the_drag_is_given_up(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, viewport={"width": 1000, "height": 1600}) as page:
        box = page.locator("#rules .grip").nth(5).bounding_box()
        top = page.locator("#rules li").nth(1).bounding_box()
        page.mouse.move(box["x"] + 5, box["y"] + 5)
        page.mouse.down()
        page.mouse.move(box["x"] + 5, top["y"] + 4, steps=8)
        moved = ["club", "repeaters", *(name for name in EXACT[1:] if name != "repeaters")]
        assert order_of(page) == moved
        page.keyboard.press("Escape")
        assert order_of(page) == EXACT
        page.mouse.move(box["x"] + 5, top["y"] + 4)
        page.mouse.up()
        assert order_of(page) == EXACT
        page.mouse.move(box["x"] + 5, box["y"] + 5)
        page.mouse.down()
        page.mouse.move(box["x"] + 5, top["y"] + 4, steps=8)
        page.mouse.up()
        assert order_of(page) == moved
        assert "repeaters" in page.locator("#settings").input_value()


def test_with_the_keyboard_alone_and_told_aloud(browser: Any, settings_file: Path, page_file: Path) -> None:
    from playwright.sync_api import expect

    with opened(browser, page_file) as page:
        page.locator("#limit").focus()
        page.keyboard.press("Control+A")
        page.keyboard.type("5000")
        page.keyboard.press("Tab")  # the scale
        page.keyboard.press("Tab")  # first rule: up, which is as far as it goes
        page.keyboard.press("Enter")
        assert order_of(page) == EXACT
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        page.keyboard.press("Space")  # the button kept the focus
        assert order_of(page)[:3] == [EXACT[1], EXACT[2], EXACT[0]]
        expect(page.locator("#told")).to_contain_text("4,993 kept. The limit falls inside")
        told = shown(page)
        target = with_copied_settings(page, settings_file, "keyboard")
    assert_same(told, fitted(target))


def test_every_control_has_a_name(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        controls = page.locator("button, input, textarea").all()
        assert len(controls) > 20
        snapshot = page.locator("body").aria_snapshot()
        assert 'spinbutton "Limit"' in snapshot
        assert 'slider "Limit, on a scale"' in snapshot
        assert 'button "Move home up"' in snapshot
        assert 'checkbox "Leave out Germany (DE)"' in snapshot
        assert 'textbox "Settings"' in snapshot
        assert not re.search(r"- (button|checkbox|spinbutton|slider|textbox|searchbox)(:| \[|$)", snapshot, re.MULTILINE)


def test_a_narrow_screen_needs_no_scrolling_sideways(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, viewport={"width": 360, "height": 700}) as page:
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            assert page.evaluate("document.documentElement.scrollWidth") == 360
            assert page.locator(".scroll").evaluate("one => one.scrollWidth - one.clientWidth") == 0
            red = int(page.evaluate("getComputedStyle(document.body).backgroundColor").split("(")[1].split(",")[0])
            assert (red < 128) == (scheme == "dark")
        page.locator("#find").fill("germ")
        assert page.locator("#countries tr:visible").count() == 1
        page.locator("#find").fill("unknown")  # it cannot be named in a rule
        assert page.locator("#countries tr:visible input").is_disabled()


def test_copying(browser: Any, page_file: Path) -> None:
    from playwright.sync_api import expect

    context = browser.new_context(permissions=["clipboard-read", "clipboard-write"])
    page = context.new_page()
    page.goto(page_file.as_uri())
    page.locator("#limit").fill("1234")
    page.get_by_role("button", name="Copy the settings").click()
    expect(page.locator("#copied")).to_have_text("Copied.")
    assert page.evaluate("navigator.clipboard.readText()") == page.locator("#settings").input_value()
    assert "contacts = 1234\n" in page.locator("#settings").input_value()
    context.close()


def test_without_heard_logs_and_with_some_of_the_rules(browser: Any, tmp_path: Path) -> None:
    settings_file = world(tmp_path, heard=False, share=0.1)
    text = settings_file.read_text(encoding="utf-8").replace(
        "carried =", 'rules = ["far", "home", "club", "Europe"]\ncarried ='
    )
    settings_file.write_text(text, encoding="utf-8")
    file = explore(settings_file, None, tmp_path / "explore.html").path
    with opened(browser, file) as page:
        assert page.locator("#share-all").count() == 0
        assert order_of(page) == ["far", "home", "club", "Europe"]
        put_in_order(page, ["Europe", "club", "far", "home"])
        page.locator("#limit").fill("600")
        leave_out(page, "FR")
        told = shown(page)
        target = with_copied_settings(page, settings_file, "try")
    assert_same(told, fitted(target))


HOSTILE = (
    "</script><script>document.title='stolen'</script>",
    "<img src=x onerror=\"document.title='stolen'\">",
    "<!--<script>",
    "שלום (1) & \"two\" \\ 'three' {{ 4 }}",
    "\\u003cb\\u003e ${5}",
)


def test_hostile_names_of_rules_stay_text(browser: Any, tmp_path: Path) -> None:
    import json

    settings_file = world(tmp_path, heard=False, share=0.1)
    names = [json.dumps(name, ensure_ascii=False) for name in HOSTILE]
    rules = "".join(f'[[keep]]\nname = {name}\nat_most = {place}\ncountries = ["AT"]\n' for place, name in enumerate(names))
    radio = f'[[radio]]\nname = "{RADIO}"\ncontacts = 7\norders = {{ {names[0]} = "id" }}\n'
    settings_file.write_text(HOME + DROPS + rules + radio, encoding="utf-8")
    file = explore(settings_file, None, tmp_path / "explore.html").path
    with opened(browser, file) as page:
        assert order_of(page) == list(HOSTILE)
        put_in_order(page, list(reversed(HOSTILE)))
        page.locator("#limit").fill("5")
        assert page.title() == f"Explore {RADIO}"
        assert page.locator("img, b, iframe").count() == 0
        assert page.locator("script").count() == 3
        told = shown(page)
        target = with_copied_settings(page, settings_file, "try")
    assert_same(told, fitted(target))


def test_the_order_goes_by_names_where_rules_list_stations(browser: Any, tmp_path: Path) -> None:
    settings_file = world(tmp_path, heard=False, share=0.1)
    text = settings_file.read_text(encoding="utf-8")
    mine = '[[keep]]\nname = "mine"\nids = [2321234, 2625678]\n[[keep]]\nname = "friends"\ncallsigns = ["X3*"]\n'
    settings_file.write_text(text.replace("[[keep]]", f"{mine}[[keep]]", 1), encoding="utf-8")
    file = explore(settings_file, None, tmp_path / "explore.html").path
    written = file.read_text(encoding="utf-8")
    assert not any(secret in written for secret in ("2321234", "2625678", "X3*"))
    with opened(browser, file) as page:
        put_in_order(page, [*EXACT, "friends", "mine"])
        told = shown(page)
        target = with_copied_settings(page, settings_file, "try")
    assert load_settings(target).radios[0].rules == (*EXACT, "friends", "mine")
    assert_same(told, fitted(target))
