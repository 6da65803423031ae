"""Charts of a page as SVG, drawn by Altair and vl-convert (the extra `charts`): coverage by limit, and who was kept by rule.

Receives the content of a page, hands on inline SVG by name. It holds no script, no style and no address, and takes its
colours from the style sheet of the page, so that it follows dark and light.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from xml.etree import ElementTree

from pruner.pages.page_text import clear
from pruner.words.errors import SettingsError

if TYPE_CHECKING:
    from pruner.pages.page_model import RadioPage

#: Colours that stand for those of the style sheet while the chart is drawn.
_COLOURS: Final = {
    "#010203": "var(--ink)",
    "#020304": "var(--soft)",
    "#030405": "var(--line)",
    "#040506": "var(--kept)",
    "#050607": "var(--out)",
}
_INK, _SOFT, _LINE, _KEPT, _OUT = _COLOURS
#: What a drawing may hold; everything else that the library writes is left out or refused.
_ELEMENTS: Final = ("svg", "g", "path", "line", "text", "rect")
_ATTRIBUTES: Final = (
    *("viewBox", "d", "transform", "x", "y", "x1", "x2", "y1", "y2", "width", "height", "display", "opacity"),
    *("fill", "stroke", "stroke-width", "stroke-dasharray", "stroke-miterlimit", "stroke-linejoin", "stroke-linecap"),
    *("text-anchor", "font-family", "font-size", "font-weight"),
)
_WIDTH: Final = 960
_LONGEST: Final = 34


def charts_of(page: RadioPage) -> dict[str, Any]:
    """Markup of `coverage` (where the page has a curve) and `rules` (where it has rules), safe to put into the page.

    Raises SettingsError where the extra is not installed.
    """
    try:
        import altair
        import vl_convert  # noqa: F401
    except ImportError:
        raise SettingsError("charts: need the extra `charts`; in the folder of the project: pip install '.[charts]'") from None
    made = {}
    if page.curve:
        made["coverage"] = _svg(
            _coverage(altair, page), "Looking back: calls with a name by limit; the table below has the figures"
        )
    if page.rules:
        made["rules"] = _svg(_rules(altair, page), "Kept and not kept by rule; the table below has the figures")
    return made


def _coverage(altair: Any, page: RadioPage) -> Any:
    rows = [{"contacts": point.contacts, "share": point.share} for point in page.curve]
    here = next(point for point in page.curve if point.here)
    own = altair.Chart(altair.InlineData(values=[{"contacts": here.contacts, "text": f"this radio: {here.contacts:,}"}]))
    x = altair.X("contacts:Q", title="contacts", axis=altair.Axis(format=",d", tickCount=8))
    y = altair.Y(
        "share:Q", title="calls with a name, looking back", axis=altair.Axis(format=".0%"), scale=altair.Scale(domain=[0, 1])
    )
    base = altair.Chart(altair.InlineData(values=rows)).encode(x=x, y=y)
    line = base.mark_line(color=_KEPT, strokeWidth=2.5, interpolate="step-after")
    points = base.mark_point(color=_KEPT, filled=True, size=26, opacity=1)
    mark = own.mark_rule(color=_OUT, strokeWidth=2.5).encode(x="contacts:Q")
    left = here.contacts > page.curve[-1].contacts * 0.8
    text = own.mark_text(color=_INK, align="right" if left else "left", dx=-7 if left else 7, baseline="bottom", fontSize=13)
    return (line + points + mark + text.encode(x="contacts:Q", y=altair.value(232), text="text:N")).properties(
        width=_WIDTH, height=240
    )


def _rules(altair: Any, page: RadioPage) -> Any:
    names = [_short(f"{place}. {clear(rule.name)}") for place, rule in enumerate(page.rules, 1)]
    parts = (("kept", "kept"), ("not kept", "out"))
    rows = [
        {"rule": name, "part": word, "place": place, "stations": getattr(rule, key)}
        for name, rule in zip(names, page.rules, strict=True)
        for place, (word, key) in enumerate(parts)
    ]
    return (
        altair.Chart(altair.InlineData(values=rows))
        .mark_bar(height=14)
        .encode(
            x=altair.X("stations:Q", title="stations", axis=altair.Axis(format=",d", tickCount=8)),
            y=altair.Y("rule:N", title=None, sort=names, axis=altair.Axis(labelLimit=260, domain=False, ticks=False)),
            color=altair.Color(
                "part:N",
                title=None,
                scale=altair.Scale(domain=[word for word, _ in parts], range=[_KEPT, _OUT]),
                legend=altair.Legend(orient="top", symbolType="square"),
            ),
            order="place:O",
        )
        .properties(width=_WIDTH, height=altair.Step(28))
    )


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def _svg(chart: Any, label: str) -> Any:
    import vl_convert
    from markupsafe import Markup, escape

    axis = {"labelColor": _SOFT, "titleColor": _SOFT, "gridColor": _LINE, "domainColor": _SOFT, "tickColor": _SOFT}
    fonts = {"labelFontSize": 13, "titleFontSize": 13, "titleFontWeight": "normal", "titlePadding": 10}
    fit = {"type": "fit-x", "contains": "padding"}  # the same width for all, so that letters have one size
    chart = chart.configure(
        background="transparent", font="sans-serif", axis={**axis, **fonts}, view={"stroke": "transparent"}, autosize=fit
    )
    chart = chart.configure_legend(labelColor=_INK, labelFontSize=13)
    return Markup(_as_one_picture(str(vl_convert.vegalite_to_svg(chart.to_json())), str(escape(label))))


def _as_one_picture(svg: str, label: str) -> str:
    """The drawing as one labelled picture. What could act, and the parts' own labels, which repeat the table, are taken out."""
    root = ElementTree.fromstring(svg)
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
        if element.tag not in _ELEMENTS:
            raise AssertionError(f"a chart with an element {element.tag!r}")
        kept = {key: _COLOURS.get(value, value) for key, value in element.attrib.items() if key in _ATTRIBUTES}
        element.attrib.clear()
        element.attrib.update(kept)
    body = "".join(ElementTree.tostring(child, encoding="unicode") for child in root)
    return f'<svg viewBox="{root.attrib["viewBox"]}" role="img" aria-label="{label}" focusable="false">{body}</svg>'
