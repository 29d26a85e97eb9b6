"""For the site's reference: a record of ours is shown as the dataclass that it is."""

from __future__ import annotations

from typing import Any

import griffe

OURS, PYTHONS = "landwise.records.dataclass", "dataclasses.dataclass"


class Records(griffe.Extension):
    """Reads `landwise.records.dataclass` as Python's own decorator, which griffe knows."""

    def on_alias_instance(self, *, alias: griffe.Alias, **_: Any) -> None:
        """Follow the import to where the decorator comes from."""
        if alias.target_path == OURS:
            alias.target_path = PYTHONS
