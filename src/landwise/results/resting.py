"""What rests on each source: formulas, outlines, defaults, checks."""

from __future__ import annotations

from collections import defaultdict
from functools import cache

from landwise.evidence import all_formulas
from landwise.outlines import catalogue
from landwise.study.defaults import all_defaults


@cache
def resting() -> dict[str, dict[str, tuple[str, ...]]]:
    """For each source, the formulas, outlines and defaults that name it."""
    found: dict[str, dict[str, dict[str, None]]] = defaultdict(lambda: {"formulas": {}, "outlines": {}, "defaults": {}})
    for entry in all_formulas().values():
        for key in entry.sources:
            found[key]["formulas"][entry.key] = None
    for outline in catalogue().values():
        for key in outline.sources:
            found[key]["outlines"][outline.name] = None
    for item in all_defaults():
        key = item.source.partition(":")[0]
        if key:
            found[key]["defaults"][item.place] = None
    return {key: {kind: tuple(names) for kind, names in rows.items()} for key, rows in found.items()}
