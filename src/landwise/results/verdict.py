"""The verdict of an option as a whole: one word, never better than what binds it."""

from __future__ import annotations

from dataclasses import dataclass

from landwise.evidence.figures import Figure, Verdict, worst
from landwise.judging.results import OptionResult
from landwise.service.safety import CAUTIONED, binding, cautions_of

# What a user would be hurt by when it came out at its worse end: an option is then never simply "holds".
TO_THE_WORSE_END = (*CAUTIONED, "bridging")
# How long it lasts is asked of every option: without evidence it is never simply "holds" either.
LASTING = ("life", "test-life")


@dataclass(frozen=True)
class Short:
    """Something that keeps an option that breaks no limit from a plain "holds".

    `mark` is as short as stands beside the option's row, `says` is the sentence behind it.
    """

    verdict: Verdict
    mark: str
    says: str


def verdict_of(option: OptionResult) -> Verdict:
    """An option's verdict: the worst of all that binds it.

    Fails with any limit broken or any caution that binds. Otherwise that of its print, but no better than "marginal"
    where some figure of it fails, where a life, a clearance, bridging or a load that makes a caution is not held at the
    worse end of its interval, or where a limit of the study is not shown to hold; "not known" where nothing shows
    either way what the study limits, or how long it lasts.
    """
    if option.rejections or binding(cautions_of(option.figures)):
        return "fails"
    return worst([option.geometry.printed.verdict, *(one.verdict for one in short_of(option))])


def short_of(option: OptionResult) -> list[Short]:
    """What keeps an option that breaks no limit from a plain "holds", beside its print."""
    figures, found = option.figures, list[Short]()
    for key in option.unshown:
        figure, title = figures[key], figures[key].title
        verdict: Verdict = "not known" if figure.value is None else "marginal"
        says = f"not shown to hold the limit on {title}: {figure.text()}"
        found.append(Short(verdict, f"not shown: {key}", says))
    for key, figure in figures.items():
        title, short = figure.title, figure.title.partition(", ")[0]
        if figure.verdict == "fails":
            found.append(Short("marginal", f"{short}: fails", f"{title} {figure.text()}: {figure.why}"))
        elif key in LASTING and nothing_shows(figure):
            found.append(Short("not known", f"{short}: not known", f"{title}: {figure.why}"))
        elif key in TO_THE_WORSE_END and not held_throughout(figure):
            says = f"{title} {figure.text()}: not held at the worse end"
            found.append(Short("marginal", f"{short}: not at its worse end", says))
    return found


def short_marks(option: OptionResult) -> list[str]:
    """Beside an option's row: all limits that it is not shown to hold, and else the first thing that it is short of.

    A broken limit and a caution that binds stand in their own words.
    """
    verdict = verdict_of(option)
    if option.rejections or (verdict == "fails" and not option.unshown):
        return []
    short = short_of(option)
    unshown = [one.mark for one in short[: len(option.unshown)]]
    return unshown or [one.mark for one in short if one.verdict == verdict][:1]


def nothing_shows(figure: Figure) -> bool:
    """Whether a figure has a limit and nothing at hand shows it held or broken."""
    return figure.limit is not None and figure.value is None and figure.verdict == "not known"


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


def word_of(figure: Figure) -> Verdict | None:
    """The word beside a figure; None for money that no limit holds, of which there is nothing to keep or to fail.

    >>> word_of(Figure(key="cost", title="cost")), word_of(Figure(key="gap", title="gap"))
    (None, 'not known')
    """
    return None if figure.key == "cost" and figure.limit is None else figure.verdict
