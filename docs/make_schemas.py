"""Write the JSON Schemas of study file, result.json and review.json; `--check` fails if the shipped ones are stale."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from landwise.results.file import result_schema
from landwise.review.reviewschema import review_schema
from landwise.study.file import schema

FOLDER = Path(__file__).resolve().parent.parent / "src" / "landwise" / "schemas"


def texts() -> dict[str, str]:
    """File name to content."""
    made = {
        "result.schema.json": result_schema(),
        "landwise.schema.json": schema(),
        "review.schema.json": review_schema(),
    }
    return {name: json.dumps(data, indent=1, ensure_ascii=False) + "\n" for name, data in made.items()}


def main() -> int:
    """Write or check."""
    stale = [
        name for name, text in texts().items() if not (FOLDER / name).exists() or (FOLDER / name).read_text() != text
    ]
    if "--check" in sys.argv:
        print("stale: " + ", ".join(stale) if stale else "schemas are up to date")
        return int(bool(stale))
    FOLDER.mkdir(exist_ok=True)
    for name, text in texts().items():
        (FOLDER / name).write_text(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
