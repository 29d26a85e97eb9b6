"""What differs between the options of a part: the figures that tell them apart, and in a line what they share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from landwise.evidence.figures import Figure, Verdict
from landwise.judging.results import OptionResult, PartResult
from landwise.results.verdict import word_of
from landwise.sheets.cards import figure_text

MOST_COMPARED = 4  # columns that an upright page holds beside the figure's name
MOST_ROWS = 12
# Exact numbers nearer than this share of each other serve alike (common practice, no source).
ALIKE = 0.05
ORDER: tuple[Verdict, ...] = ("fails", "marginal", "not known", "holds")


@dataclass(frozen=True)
class Cell:
    """One option's figure: its text and the word beside it, None for money that no limit holds."""

    text: str
    word: Verdict | None


@dataclass(frozen=True)
class Differences:
    """What tells a part's options apart.

    Parameters
    ----------
    names : tuple of str
        The options compared, the choice first.
    rows : tuple of (title, cells)
        Figures that differ, in the order in which they matter.
    more : int
        How many further figures differ that are not among the rows.
    alike : tuple of (verdict, count, sentence)
        Figures that are the same for all of them, told in one sentence for each verdict.
    """

    names: tuple[str, ...]
    rows: tuple[tuple[str, tuple[Cell, ...]], ...]
    more: int
    alike: tuple[tuple[Verdict, int, str], ...]


def compared(part: PartResult) -> list[OptionResult]:
    """The options worth a column: the choice, the one in use where it fits the limits, then the next in order."""
    fit = [option for option in part.options if option.feasible]
    first = [option for option in (part.chosen, part.present) if option is not None and option.feasible]
    names = dict.fromkeys(option.name for option in (*first, *fit))
    by = {option.name: option for option in (*fit, *first)}
    return [by[name] for name in names][:MOST_COMPARED]


def differences(part: PartResult) -> Differences:
    """What tells the options of a part apart. Assumes that all options carry the same keys or lack some of them."""
    options = compared(part)
    keys = dict.fromkeys(key for option in options for key in option.figures)
    apart: list[list[Figure | None]] = []
    same: list[Figure] = []
    for key in keys:
        row = [option.figures.get(key) for option in options]
        if tells_apart(row):
            apart.append(row)
        else:
            same.append(next(figure for figure in row if figure is not None))
    apart.sort(key=_matters)
    rows = tuple((_title(row), tuple(_cell(figure) for figure in row)) for row in apart)
    return Differences(
        tuple(option.name for option in options), rows[:MOST_ROWS], max(0, len(rows) - MOST_ROWS), _alike(same)
    )


def tells_apart(row: Sequence[Figure | None]) -> bool:
    """Whether a figure tells options apart: another verdict, one not known, or values beyond what is known of them.

    Values with an interval differ where no interval reaches into another; exact ones where they are more than a
    twentieth apart.

    >>> from landwise.evidence.figures import figure
    >>> from landwise.evidence.trails import stated, taken
    >>> def one(value): return figure(taken("a", stated(value, "a")), key="a", title="a", verdict="holds")
    >>> tells_apart([one(1.0), one(1.02)]), tells_apart([one(1.0), one(1.2)]), tells_apart([one(1.0), None])
    (False, True, True)
    """
    known = [figure for figure in row if figure is not None]
    if len(known) < len(row) or len({figure.verdict for figure in known}) > 1:
        return True
    values = [figure for figure in known if figure.value is not None]
    if not values:
        return False
    if len(values) < len(known):
        return True
    spans = [_span(figure) for figure in values]
    if all(low == high for low, high in spans):
        ends = [low for low, _ in spans]
        return max(ends) - min(ends) > ALIKE * max(abs(end) for end in ends)
    return max(low for low, _ in spans) > min(high for _, high in spans)


def _span(figure: Figure) -> tuple[float, float]:
    value = figure.value or 0.0
    return (value if figure.low is None else figure.low, value if figure.high is None else figure.high)


def _matters(row: Sequence[Figure | None]) -> tuple[bool, int, float]:
    """Verdicts that differ first, the worst of them before the others; then what lies nearest its limit."""
    known = [figure for figure in row if figure is not None]
    words = {figure.verdict for figure in known}
    nearest = min(
        (abs(one.margin / one.limit) for one in known if one.margin is not None and one.limit), default=math.inf
    )
    return (len(words) == 1, min(ORDER.index(word) for word in words), nearest)


def _title(row: Sequence[Figure | None]) -> str:
    return next(figure.title for figure in row if figure is not None)


def _cell(figure: Figure | None) -> Cell:
    if figure is None:
        return Cell("–", "not known")
    text = "" if figure.value is None and figure.verdict == "not known" else figure_text(figure)
    return Cell(text.removesuffix("\u2009money"), word_of(figure))


def _alike(same: Sequence[Figure]) -> tuple[tuple[Verdict, int, str], ...]:
    """What all options share: with reasons where it does not hold, by name alone where it does."""
    told = []
    for word in ORDER:
        found = [figure for figure in same if word_of(figure) == word]
        if found:
            reasons = [f"{one.title} ({one.why})" if one.why and word != "holds" else one.title for one in found]
            told.append((word, len(found), "; ".join(reasons)))
    return tuple(told)
