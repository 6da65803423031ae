"""The page in a real browser: nothing runs, nothing leaves, it can be read by anybody, on paper too.

Needs Debian's Chromium (package chromium); the check with axe-core needs `npm pack axe-core` unpacked in /tmp/pruner-axe, or
its folder in PRUNER_AXE.
"""

from __future__ import annotations

import itertools
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from report_samples import HOSTILE, in_bytes, sample_run

from pruner.pages.page import render, render_several
from pruner.pages.page_text import clear

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = Path(os.environ.get("PRUNER_CHROMIUM", "/usr/bin/chromium"))
AXE = Path(os.environ.get("PRUNER_AXE", "/tmp/pruner-axe")) / "package" / "axe.min.js"
ARGUMENTS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
]
NAMES = ("plain", "charts", "several")
pytestmark = [pytest.mark.long, pytest.mark.skipif(not CHROMIUM.exists(), reason="no Chromium: apt-get install chromium")]

#: Contrast of every text with what it stands on, as the WCAG define it ("relative luminance", "contrast ratio",
#: https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio), of the colours that the browser computed.
CONTRAST = """() => {
  const parts = colour => colour.match(/[0-9.]+/g).map(Number);
  const luminance = colour => parts(colour).slice(0, 3).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const opaque = colour => parts(colour).length < 4 || parts(colour)[3] > 0;
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || element.closest("title")) continue;
    let ground = element;
    while (ground && !opaque(getComputedStyle(ground).backgroundColor)) ground = ground.parentElement;
    const style = getComputedStyle(element);
    const front = luminance(element.closest("svg") ? style.fill : style.color);
    const back = luminance(getComputedStyle(ground || document.body).backgroundColor);
    found.push([(Math.max(front, back) + 0.05) / (Math.min(front, back) + 0.05), walker.currentNode.textContent.trim()]);
  }
  return found.sort((a, b) => a[0] - b[0]);
}"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages of a run with hostile names: plain, with charts, several radios with charts."""
    made = tmp_path_factory.mktemp("pages")
    summary = sample_run(made / "run", hostile=True)
    ledger = made / "run" / "ledger.parquet"
    several = [(in_bytes(summary), ledger), (in_bytes(summary, "coverage"), ledger)]
    for name, text in (
        ("plain", render(summary, ledger)),
        ("charts", render(summary, ledger, charts=True, date="2026-07-31")),
        ("several", render_several(several, charts=True)),
    ):
        (made / f"{name}.html").write_text(text, encoding="utf-8")
    return made


class Watched:
    """A page opened with no network, and all that it tried."""

    def __init__(self, browser: Browser, file: Path, **options: Any) -> None:
        self.context = browser.new_context(offline=True, **options)
        self.page: Page = self.context.new_page()
        self.dialogs: list[str] = []
        self.messages: list[str] = []
        self.requests: list[str] = []
        self.page.on("dialog", lambda dialog: (self.dialogs.append(dialog.message), dialog.dismiss()))
        self.page.on("console", lambda message: self.messages.append(message.text))
        self.page.on("pageerror", lambda error: self.messages.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(file.as_uri())

    def __enter__(self) -> Watched:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()


@pytest.mark.parametrize("name", NAMES)
def test_nothing_runs_and_nothing_leaves(browser: Browser, folder: Path, name: str) -> None:
    file = folder / f"{name}.html"
    with Watched(browser, file) as watched:
        page = watched.page
        page.mouse.move(300, 300)
        page.keyboard.press("Tab")
        page.wait_for_timeout(150)
        assert watched.dialogs == []
        assert watched.messages == []
        assert watched.requests == [file.as_uri()]
        assert page.evaluate("typeof window.owned") == "undefined"
        assert page.locator("script, img, iframe, object, embed, form, link, [onload], [onerror], [onmouseover]").count() == 0
        assert page.title() == f"{clear(HOSTILE[10] + HOSTILE[4])}: report of a fit" or name == "several"
        text = page.inner_text("main")
        for words in (*HOSTILE[:3], HOSTILE[5], HOSTILE[7], HOSTILE[9]):
            assert clear(words) in text, words
        assert "a\\u202eb\\u2066c\\u200fd\\u2029e" in page.inner_text("header")
        assert page.evaluate("getComputedStyle(document.body).maxWidth") == "none"


def test_the_policy_would_stop_what_slipped_in(browser: Browser, folder: Path) -> None:
    """The same page with a script, a picture, a style and an address smuggled in: the browser refuses each."""
    smuggled = (
        "<script>window.owned=1</script><style>body{display:none}</style>"
        '<img src="file:///etc/hostname" onerror="window.owned=2"><p style="color:red" id="p">x</p>'
    )
    page = (folder / "plain.html").read_text(encoding="utf-8").replace("<main", smuggled + "<main")
    file = folder / "smuggled.html"
    file.write_text(page, encoding="utf-8")
    with Watched(browser, file) as watched:
        assert watched.page.evaluate("typeof window.owned") == "undefined"
        assert watched.page.evaluate("getComputedStyle(document.body).display") == "block"
        assert watched.page.evaluate("getComputedStyle(document.getElementById('p')).color") != "rgb(255, 0, 0)"
        assert len([words for words in watched.messages if "Content Security Policy" in words]) >= 4


@pytest.mark.parametrize("name", NAMES)
def test_on_a_narrow_screen_only_boxes_scroll(browser: Browser, folder: Path, name: str) -> None:
    with Watched(browser, folder / f"{name}.html", viewport={"width": 360, "height": 740}) as watched:
        page = watched.page
        assert page.evaluate("[document.documentElement.scrollWidth, innerWidth]") == [360, 360]
        scrolling = page.evaluate(
            """() => [...document.querySelectorAll("body *")].filter(one => {
                 const style = getComputedStyle(one);
                 return one.scrollWidth > one.clientWidth + 1 && style.overflowX !== "visible" && style.display !== "inline"
               }).map(one => [one.className, one.tabIndex, one.getAttribute("role"), !!one.getAttribute("aria-label")])"""
        )
        assert scrolling
        assert all(one[0].startswith("scroll") and one[1:] == [0, "group", True] for one in scrolling), scrolling


def test_the_keyboard_reaches_everything(browser: Browser, folder: Path) -> None:
    with Watched(browser, folder / "charts.html", viewport={"width": 360, "height": 740}) as watched:
        page = watched.page
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "Skip to the report"
        assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= 0
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "main"
        reached = []
        for _ in range(60):
            page.keyboard.press("Tab")
            told = page.evaluate(
                "(one => [one.tagName, one.className, one.getAttribute('aria-label')])(document.activeElement)"
            )
            if told[0] == "BODY":
                break
            reached.append(told)
            if told[1] == "scroll chart":
                before = page.evaluate("document.activeElement.scrollLeft")
                page.keyboard.press("ArrowRight")
                for _ in range(30):
                    page.wait_for_timeout(50)
                    if (after := page.evaluate("document.activeElement.scrollLeft")) > before:
                        break
                assert after > before
        boxes = page.locator(".scroll").count()
        assert len([one for one in reached if one[1].startswith("scroll")]) == boxes > 6
        assert all(one[2] for one in reached)


@pytest.mark.parametrize("name", ["charts", "several"])
def test_headings_landmarks_and_tables(browser: Browser, folder: Path, name: str) -> None:
    with Watched(browser, folder / f"{name}.html") as watched:
        page = watched.page
        levels = [
            int(tag[1]) for tag in page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(one => one.tagName)")
        ]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
        for landmark in ("header", "nav", "main", "footer"):
            assert page.locator(landmark).count() == 1
        assert page.evaluate("document.documentElement.lang") == "en"
        assert page.locator("table").count() == page.locator("table > caption").count() > 5
        assert page.locator("th:not([scope])").count() == 0
        assert page.locator("tbody tr:not(:has(th[scope=row])):not(:has(td[colspan]))").count() == 0
        unlabelled = page.locator("svg:not([aria-hidden=true]):not([role=img][aria-label])")
        assert unlabelled.count() == 0


@pytest.mark.parametrize(("name", "scheme"), [("charts", "light"), ("charts", "dark"), ("several", "dark")])
def test_every_text_has_enough_contrast(browser: Browser, folder: Path, name: str, scheme: Any) -> None:
    """WCAG 2.2, success criterion 1.4.3, level AA: 4.5:1."""
    with Watched(browser, folder / f"{name}.html", color_scheme=scheme) as watched:
        found = watched.page.evaluate(CONTRAST)
        assert len(found) > 200
        assert found[0][0] >= 4.5, found[:5]
        ground = watched.page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert (sum(map(int, re.findall(r"\d+", ground))) > 384) == (scheme == "light")


def test_on_paper(browser: Browser, folder: Path) -> None:
    """In dark mode too, the page prints in light colours, whole tables, without what is only for the screen."""
    with Watched(browser, folder / "several.html", color_scheme="dark") as watched:
        page = watched.page
        data = page.pdf(format="A4")
        assert data.startswith(b"%PDF-")
        assert len(re.findall(rb"/Type\s*/Page\b", data)) >= 4
        page.emulate_media(media="print", color_scheme="dark")
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert page.evaluate("getComputedStyle(document.body).color") == "rgb(28, 37, 48)"
        assert not page.locator("nav").is_visible()
        assert page.evaluate(
            "[...document.querySelectorAll('.scroll')].every(one => getComputedStyle(one).maxHeight === 'none')"
        )
        assert page.evaluate(CONTRAST)[0][0] >= 4.5


@pytest.mark.parametrize(("name", "scheme"), [("plain", "light"), ("several", "dark")])
@pytest.mark.skipif(not AXE.exists(), reason="no axe-core: npm pack axe-core, unpacked in /tmp/pruner-axe")
def test_axe_finds_no_violation(browser: Browser, folder: Path, name: str, scheme: Any) -> None:
    """The rules of axe-core (npm, Deque Systems), all of them, best practices included."""
    with Watched(browser, folder / f"{name}.html", color_scheme=scheme) as watched:
        watched.page.evaluate(AXE.read_text(encoding="utf-8") + "; 0")
        found = watched.page.evaluate("axe.run().then(told => ({bad: told.violations, passed: told.passes.length}))")
        assert [(one["id"], [node["html"][:200] for node in one["nodes"]][:3]) for one in found["bad"]] == []
        assert found["passed"] > 20
