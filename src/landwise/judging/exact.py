"""A Figure that is known exactly: its interval is its value."""

from __future__ import annotations

from landwise.evidence.figures import Figure


def exact(key: str, title: str, value: float | None, unit: str, **more: object) -> Figure:
    """Make a Figure whose low and high ends are its value."""
    return Figure(key=key, title=title, value=value, unit=unit, low=value, high=value, **more)  # type: ignore[arg-type]
