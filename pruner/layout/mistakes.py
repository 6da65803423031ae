"""What is wrong with a layout, as lines for people.

Receives a validation error or the plain document, hands on one `Mistake` per problem: of single values, and of values
that do not go together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from pydantic import ValidationError

from pruner.layout.encoding import TextEncoding, text_encoding
from pruner.layout.template import TemplateError, constant_text, fields_of, only_field, parse_template
from pruner.settings.lines import TomlPath
from pruner.settings.messages import Mistake, mistakes
from pruner.settings.values import shown, suggestion
from pruner.words import schema

_NO_ID: Final = (
    'no column holds {id}, so the radio could not tell who calls; say which does with value = "{id}", or, where a file without '
    "ids is meant, say without_ids = true in [file]"
)
_DELIMITED_ONLY: Final = ("delimiter", "quoting")


def model_mistakes(error: ValidationError, legal_keys: Callable[[TomlPath], list[str]]) -> list[Mistake]:
    """The mistakes of single values, in the words of the settings, with the keys that a layout knows."""
    kinds = {tuple(problem["loc"]): problem["type"] for problem in error.errors(include_url=False)}
    found = []
    for mistake in mistakes(error):
        sentence, kind = mistake.sentence, kinds.get(mistake.path)
        if kind == "extra_forbidden":
            legal = legal_keys(mistake.path[:-1])
            sentence = "unknown key" + (suggestion(str(mistake.path[-1]), legal) or f"; legal here: {', '.join(legal)}")
        elif mistake.path == ("column",) and kind == "missing":
            sentence = "expected at least one [[column]] table"
        elif kind == "tuple_type" and mistake.path == ("column",):
            sentence = "expected [[column]] tables (two brackets)"
        found.append(Mistake(mistake.path, sentence))
    return found


def cross_mistakes(document: dict[str, Any], wrong: set[TomlPath]) -> list[Mistake]:
    """What does not go together in a document, as far as its single values are right (`wrong`: paths that are not)."""
    form, columns = document.get("file", {}), document.get("column", ())
    if not isinstance(form, dict) or not isinstance(columns, tuple):
        return []
    form = {key: value for key, value in form.items() if ("file", key) not in wrong}
    found = list(_of_file(form))
    for place, column in enumerate(columns):
        if isinstance(column, dict):
            right = {key: value for key, value in column.items() if ("column", place, key) not in wrong}
            found += [Mistake(("column", place, *path), sentence) for path, sentence in _of_column(form, right, set(column))]
    return found


def id_mistakes(document: dict[str, Any], wrong: set[TomlPath]) -> list[Mistake]:
    """Whether a layout writes ids, and says so where it means not to; nothing where a value is wrong, which could be the id."""
    form, columns = document.get("file", {}), document.get("column", ())
    if not isinstance(form, dict) or not isinstance(columns, tuple) or not all(isinstance(column, dict) for column in columns):
        return []
    if any(path[0] == "column" and path[2:] in ((), ("value",)) for path in wrong) or not columns:
        return []
    places = [place for place, column in enumerate(columns) if schema.ID in fields_of(column["value"])]
    meant = form.get("without_ids") is True
    if meant and places:
        return [
            Mistake(("column", places[0], "value"), "holds {id}, but [file] says without_ids = true; delete one of the two")
        ]
    if not meant and not places:
        return [Mistake(("column",), _NO_ID)]
    return []


def _of_file(form: dict[str, Any]) -> Iterator[Mistake]:
    if form.get("kind") == "fixed":
        for key in _DELIMITED_ONLY:
            if key in form:
                yield Mistake(("file", key), 'has no meaning with kind = "fixed"; delete it or the kind')
    elif form.get("quoting") == "none" and form.get("delimiter") == " ":
        yield Mistake(("file", "delimiter"), 'spaces stand inside texts too; name another one, or another quoting than "none"')
    encoding = _encoding(form)
    above = form.get("lines_above", ())
    for place, line in enumerate(above if isinstance(above, tuple) else ()):
        if encoding and isinstance(line, str) and not encoding.holds(line):
            yield Mistake(("file", "lines_above", place), f"{shown(line)} cannot be written in {form.get('encoding', 'utf-8')}")
    if form.get("byte_order_mark") and encoding and not encoding.mark:
        yield Mistake(("file", "byte_order_mark"), f"there is no such mark in {form['encoding']}; delete it")


def _encoding(form: dict[str, Any]) -> TextEncoding | None:
    try:
        return text_encoding(form.get("encoding", "utf-8"))
    except LookupError:
        return None


def _of_column(form: dict[str, Any], column: dict[str, Any], given: set[str]) -> Iterator[tuple[TomlPath, str]]:
    fixed = form.get("kind") == "fixed"
    if fixed and "width" not in given:
        yield ("width",), 'expected, but not given: every column of a file of kind "fixed" needs one'
    if form.get("headings", True) and "title" not in given:
        yield ("title",), "expected, but not given (or say headings = false in [file])"
    if "pad" in column and "width" not in given and not fixed:
        yield ("pad",), "needs a width"
    if "pad_with" in column and "pad" not in given and not fixed:
        yield ("pad_with",), 'needs pad = "left" or "right"'
    signs = (form.get("delimiter", ","), '"') if form.get("quoting") == "none" and not fixed else ()
    if "pad" in column and column.get("pad_with", " ") in signs:
        yield ("pad_with",), f'{shown(column.get("pad_with", " "))} cannot be written with quoting = "none"'
    fallback, value = column.get("fallback"), column.get("value")
    if fallback is not None and value is not None and _is_constant(value):
        yield ("fallback",), "is never used: the value is a constant"
    encoding = _encoding(form)
    if encoding is None:
        return
    for key, text in _constants(column):
        if not encoding.holds(text):
            bad = next(character for character in text if not encoding.holds(character))
            yield (key,), f"{shown(bad)} cannot be written in {form.get('encoding', 'utf-8')}"
        sign = next((sign for sign in signs if sign in text), None)
        if sign:
            yield (key,), f'{shown(sign)} cannot be written with quoting = "none"'
    yield from _width_mistakes(form, column, encoding, fixed)


def _width_mistakes(
    form: dict[str, Any], column: dict[str, Any], encoding: TextEncoding, fixed: bool
) -> Iterator[tuple[TomlPath, str]]:
    width, unit = column.get("width"), form.get("width_unit", "units")
    if width is None:
        return
    if (fixed or "pad" in column) and unit == "bytes" and width % encoding.unit:
        yield ("width",), f"expected a multiple of {encoding.unit}, the bytes of a unit in {form.get('encoding')}"
    whole = [(key, constant_text(column[key])) for key in ("value", "fallback") if _is_constant(column.get(key))]
    if fixed and form.get("headings", True):
        whole.append(("title", column.get("title")))
    for key, text in whole:
        if text and encoding.holds(text) and encoding.length(text, unit) > width:
            yield (key,), f"is {encoding.length(text, unit)} {unit} long, more than the width of {width}"


def _is_constant(template: str | None) -> bool:
    try:
        return template is not None and constant_text(template) is not None
    except TemplateError:
        return False


def _constants(column: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """The texts that the layout itself brings into the file, with their keys."""
    if "title" in column:
        yield "title", column["title"]
    for key in ("value", "fallback"):
        if key in column and only_field(column[key]) is None:
            yield key, "".join(piece.text for piece in parse_template(column[key]) if not piece.is_field)
