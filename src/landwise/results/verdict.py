"""The verdict of an option as a whole: one word, never better than what binds it."""

from __future__ import annotations

from landwise.evidence.figures import Figure, Verdict, worst
from landwise.judging.results import OptionResult
from landwise.service.safety import binding, cautions_of

# What a user would be hurt by when it came out at its worse end: an option is then never simply "holds".
TO_THE_WORSE_END = ("life", "test-life", "clearance", "bridging")


def verdict_of(option: OptionResult) -> Verdict:
    """An option's verdict.

    Fails with any limit broken or any caution that binds; otherwise that of its print, but no better than "marginal"
    where a life, a clearance or bridging is not held at the worse end of its interval.
    """
    if option.rejections or binding(cautions_of(option.figures)):
        return "fails"
    found = [option.geometry.printed.verdict]
    if not all(held_throughout(option.figures[key]) for key in TO_THE_WORSE_END if key in option.figures):
        found.append("marginal")
    return worst(found)


def held_throughout(figure: Figure) -> bool:
    """Whether a figure keeps its limit over all of its interval; a figure without a limit or a value does.

    Examples
    --------
    >>> from landwise.evidence.figures import figure
    >>> from landwise.evidence.trails import Given, Origin, worked
    >>> from landwise.assembly.rare import Estimate
    >>> given = {"value": Given(value=1.0, origin=Origin.STATED), "low": Given(value=0.5, origin=Origin.STATED),
    ...          "high": Given(value=3.0, origin=Origin.STATED)}
    >>> step = worked("a range", Estimate, given)
    >>> told = {"key": "a", "title": "a", "better": "less", "verdict": "holds"}
    >>> [held_throughout(figure(step, **told, limit=limit)) for limit in (2.0, 4.0)]
    [False, True]
    """
    if figure.verdict in ("fails", "marginal"):
        return False
    if figure.limit is None or figure.value is None or figure.better == "neither":
        return True
    if figure.better == "less":
        return (figure.value if figure.high is None else figure.high) <= figure.limit
    return (figure.value if figure.low is None else figure.low) >= figure.limit
