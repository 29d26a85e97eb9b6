"""Why a figure is not known, from the error of the method that does not reach."""

from __future__ import annotations

from landwise.errors import LandwiseError


def reason_of(error: LandwiseError) -> str:
    """Message, found and expected in one line."""
    parts = [error.message]
    if error.found:
        parts.append(f"found {error.found}")
    if error.expected:
        parts.append(f"the method covers {error.expected}")
    return "; ".join(parts)
