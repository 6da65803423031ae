"""Plain tables -> TOML text. TOML 1.0.0, https://toml.io/en/v1.0.0."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from pruner.settings.models import Settings


def toml_key(key: str) -> str:
    """A key as TOML writes it; keys of the settings are bare, names of rules may need quotes."""
    bare = key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if bare else toml_value(key)


def toml_value(value: Any) -> str:
    """A value as TOML writes it, tables inline."""
    if isinstance(value, str):  # a basic string: JSON's differs only in U+007F, which TOML wants escaped
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    if isinstance(value, dict):
        pairs = ", ".join(f"{toml_key(key)} = {toml_value(item)}" for key, item in value.items())
        return f"{{ {pairs} }}" if pairs else "{}"
    return repr(value)


def toml_table(heading: str, table: Mapping[str, Any]) -> str:
    """A table behind its heading, such as `[[keep]]`; what is null stands nowhere."""
    return "\n".join([heading, *(f"{toml_key(key)} = {toml_value(item)}" for key, item in table.items() if item is not None)])


def settings_text(settings: Settings) -> str:
    """Settings as a file that says the same: what was given, with absolute paths."""
    document = settings.model_dump(mode="json", by_alias=True, exclude_unset=True)
    parts = []
    for key, value in document.items():
        if isinstance(value, list):
            parts += [toml_table(f"[[{key}]]", item) for item in value]
        else:
            parts.append(toml_table(f"[{key}]", value))
    return "\n\n".join(parts) + "\n"
