"""The colours of the style sheet, by the formula of the WCAG (needs no browser).

Source: Web Content Accessibility Guidelines 2.2, "relative luminance" and "contrast ratio",
https://www.w3.org/TR/WCAG22/#dfn-relative-luminance.
"""

from __future__ import annotations

import re

import pytest

from pruner.pages.page_text import TEMPLATES


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb (WCAG 2.2, definition)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def ratio(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_published_extremes() -> None:
    """WCAG 2.2: from 1:1 to 21:1; #767676 on white is the lightest grey that reaches 4.5:1 (WebAIM, from memory)."""
    assert ratio("#ffffff", "#000000") == pytest.approx(21)
    assert ratio("#123456", "#123456") == 1
    assert ratio("#767676", "#ffffff") >= 4.5 > ratio("#777777", "#ffffff")


@pytest.mark.parametrize("scheme", [0, 1])
def test_the_colours_of_the_style_sheet(scheme: int) -> None:
    """Texts 4.5:1 (1.4.3), marks 3:1 (1.4.11), and what is kept and dropped differs in lightness, not in hue alone."""
    sheet = (TEMPLATES / "style.css").read_text(encoding="utf-8")
    colours = dict(re.findall(r"--([a-z0-9]+): (#[0-9a-f]{6})", re.findall(r":root \{(.*?)\}", sheet, re.DOTALL)[scheme]))
    for name in ("ink", "soft", "link"):
        assert ratio(colours[name], colours["paper"]) >= 4.5, name
    for name in ("kept", "out", "bad", "ring"):
        assert ratio(colours[name], colours["paper"]) >= 3, name
    assert ratio(colours["kept"], colours["out"]) >= 1.5
    steps = [luminance(colours[f"s{step}"]) for step in range(6)]
    assert steps == sorted(steps, reverse=scheme == 0)
    for one, following in zip(range(5), range(1, 6), strict=True):
        assert ratio(colours[f"s{one}"], colours[f"s{following}"]) >= 1.2
