"""`python -m pruner.account.write_schema` writes `summary.schema.json` anew; a test fails while it differs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final

from pruner.account.summary import Summary

PATH: Final = Path(__file__).with_name("summary.schema.json")


def schema_text() -> str:
    """The JSON Schema of summaries as they are written."""
    document = {"$schema": "https://json-schema.org/draft/2020-12/schema", **Summary.model_json_schema(mode="serialization")}
    return json.dumps(document, indent=2) + "\n"


if __name__ == "__main__":
    PATH.write_text(schema_text(), encoding="utf-8")
