"""The sources that a result rests on, for the report, its annex and the spreadsheet."""

from __future__ import annotations

from landwise.board.result import BoardResult
from landwise.evidence.sources import Source, all_sources


def used_sources(result: BoardResult) -> list[Source]:
    """What the figures of all options rest on, in the order of its keys."""
    options = [option for part in result.parts for option in part.options]
    used = {key for option in options for figure in option.figures.values() for key in figure.sources}
    sources = all_sources()
    return [sources[key] for key in sorted(used) if key in sources]
