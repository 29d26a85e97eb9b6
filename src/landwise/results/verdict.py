"""The verdict of an option as a whole."""

from __future__ import annotations

from landwise.evidence.figures import Verdict
from landwise.judging.results import OptionResult
from landwise.service.safety import binding, cautions_of


def verdict_of(option: OptionResult) -> Verdict:
    """An option's verdict: fails with any limit broken or any caution that binds, otherwise that of its print."""
    broken = option.rejections or binding(cautions_of(option.figures))
    return "fails" if broken else option.geometry.printed.verdict
