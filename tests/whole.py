"""What a test takes of a large set: all of it under `make whole`, a stated sample in `make test`.

A sample is the same in every run and holds every family; docs/contributing/house.md lists who takes one.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable

from landwise.outlines import Outline

WHOLE = bool(os.environ.get("LANDWISE_WHOLE"))


def of_each_family(outlines: Iterable[Outline], each: int) -> list[Outline]:
    """The first outline of every family, and each so-many-th after it; all of them under `make whole`."""
    seen: Counter[str] = Counter()
    kept = []
    for outline in outlines:
        if WHOLE or seen[outline.family] % each == 0:
            kept.append(outline)
        seen[outline.family] += 1
    return kept
