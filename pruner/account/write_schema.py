"""`python -m pruner.account.write_schema` writes the JSON Schemas of summaries anew; a test fails while they differ."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from pruner.account.limits import LimitTable
from pruner.account.parts import Part
from pruner.account.summary import Summary
from pruner.account.talkgroup_summary import TalkgroupSummary

#: The files beside this module, and what each describes.
SCHEMAS: Final[Mapping[Path, type[Part]]] = {
    Path(__file__).with_name("limits.schema.json"): LimitTable,
    Path(__file__).with_name("summary.schema.json"): Summary,
    Path(__file__).with_name("talkgroup_summary.schema.json"): TalkgroupSummary,
}


def schema_text(model: type[Part]) -> str:
    """The JSON Schema of a summary as it is written."""
    document = {"$schema": "https://json-schema.org/draft/2020-12/schema", **model.model_json_schema(mode="serialization")}
    return json.dumps(document, indent=2) + "\n"


if __name__ == "__main__":
    for path, model in SCHEMAS.items():
        path.write_text(schema_text(model), encoding="utf-8")
