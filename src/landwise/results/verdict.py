"""The verdict of an option as a whole."""

from __future__ import annotations

from landwise.evidence.figures import Verdict
from landwise.judging.results import OptionResult


def verdict_of(option: OptionResult) -> Verdict:
    """An option's verdict: fails with any limit broken, otherwise that of its print."""
    return "fails" if option.rejections else option.geometry.printed.verdict
