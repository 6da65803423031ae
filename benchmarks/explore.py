"""How large the page of explore is and how soon it answers, with 330,000 contacts and 12 rules, in Debian's Chromium.

python -m benchmarks.explore [--stations 330000]: writes the demo and twelve rules into a temporary folder, makes the page and
turns its controls; an answer is everything from the change to the last text set, and then again with the layout that follows.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

RULES = """
[home]
country = "AT"
locator = "JN57"
[[source]]
name = "world"
location = "stations.csv"
[[heard]]
location = "heard/calls-*.csv"
[talkgroups]
mine = [232, 2328, 91]
[[drop]]
name = "asked to be left out"
list = "left-out.txt"
""" + "".join(
    f'[[keep]]\nname = "{name}"\n{conditions}\n'
    for name, conditions in {
        "marshals": 'list = "marshals.csv"',
        "heard on my talkgroups": 'talkgroups = "mine"\nheard_within_days = 90',
        "home": 'countries = ["home"]',
        "near": 'within_km = 300\norder = "nearest"',
        "neighbours": 'neighbours_of = ["home"]\norder = "recent"\nat_most = 20000',
        "two borders away": 'neighbours_of = ["home"]\nhops = 2\norder = "nearest"',
        "heard at all": 'heard_at_least = 1\norder = "often"',
        "repeaters": 'kind = "repeater"\norder = "nearest"\nat_most = 3000',
        "Europe": 'continents = ["Europe"]\norder = "recent"',
        "Region 1": 'itu_regions = [1]\norder = "id"',
        "Americas": 'continents = ["Americas"]\norder = "often"\ntalkgroups = [91]\nat_most = 40000',
        "the rest": 'order = "nearest"',
    }.items()
)
RADIO = '[[radio]]\nname = "handheld"\ncontacts = 200_000\n'


def main() -> None:
    """Measures and prints."""
    from playwright.sync_api import sync_playwright

    from pruner.ask.explore import explore
    from pruner.demo.write import write_demo
    from pruner.logs.fold import fold_all
    from pruner.settings.load import load_settings

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stations", type=int, default=330_000)
    with tempfile.TemporaryDirectory() as folder:
        write_demo(Path(folder), parser.parse_args().stations)
        settings = Path(folder) / "twelve.toml"
        settings.write_text(RULES + RADIO, encoding="utf-8")
        fold_all(load_settings(settings))
        began = time.perf_counter()
        written = explore(settings, None, Path(folder) / "explore.html")
        print(f"{written.contacts:,} contacts: {written.bytes:,} bytes, made in {time.perf_counter() - began:.1f} s")
        with sync_playwright() as started:
            browser = started.chromium.launch(
                executable_path="/usr/bin/chromium", args=["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic"]
            )
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            page.goto(written.path.as_uri())
            page.wait_for_selector("#all:not([hidden])")
            for name, times in measured(page).items():
                ordered = sorted(times)
                print(
                    f"{name:24} median {statistics.median(ordered):5.1f} ms   19 of 20 within "
                    f"{ordered[int(len(ordered) * 0.95)]:5.1f} ms   longest {ordered[-1]:5.1f} ms"
                )
            browser.close()


def measured(page: Any) -> dict[str, list[float]]:
    """Milliseconds of answers to changes of each kind, in turn."""
    draw = random.Random(1)
    times: dict[str, list[float]] = {"answer": [], "answer and layout": []}
    for turn in range(120):
        change = {
            0: f"const box = document.getElementById('limit'); box.value = {draw.randrange(330_000)};"
            "box.dispatchEvent(new Event('input'))",
            1: f"document.querySelectorAll('.moves button')[{draw.randrange(24)}].click()",
            2: f"document.querySelectorAll('#countries input')[{draw.randrange(12)}].click()",
        }[turn % 3]
        whole = page.evaluate(
            f"() => {{ const begin = performance.now(); {change}; document.body.getBoundingClientRect(); "
            "return performance.now() - begin; }"
        )
        times["answer and layout"].append(whole)
        times["answer"].append(page.evaluate("performance.getEntriesByName('answer')[0].duration"))
    return times


if __name__ == "__main__":
    main()
