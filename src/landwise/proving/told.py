"""A worked check in words, for the terminal and the workbench."""

from __future__ import annotations

import math

from landwise.evidence import source
from landwise.proving.tables import Case
from landwise.proving.work import Worked
from landwise.quantities import show, significant


def value_text(value: float | str, unit: str, digits: int = 6) -> str:
    """A number with its unit, or a word.

    >>> value_text(0.25, ""), value_text("fits", "")
    ('0.25', 'fits')
    """
    if isinstance(value, str):
        return value
    return show(value, unit, digits)


def expected_text(worked: Worked) -> str:
    """The printed value with what it allows, or the printed limits."""
    case, unit = worked.case, worked.unit
    if isinstance(case.expected, str):
        return case.expected
    if case.expected is not None:
        within = (case.high - case.low) / 2
        allowed = f" ± {value_text(within, unit, 2)}" if within > 1e-9 else ""
        return value_text(case.expected, unit) + allowed
    if math.isinf(case.high):
        return f"at least {value_text(case.low, unit)}"
    if math.isinf(case.low):
        return f"at most {value_text(case.high, unit)}"
    return f"{value_text(case.low, unit)} to {value_text(case.high, unit)}"


def computed_text(worked: Worked) -> str:
    """What landwise computes."""
    return value_text(worked.computed, worked.unit)


def deviation_text(worked: Worked) -> str:
    """How far that is from what is printed, with its share of it."""
    away = worked.deviation
    if away is None:
        return "none" if worked.verdict == "holds" else "another word"
    if abs(away) <= 1e-9 * max(abs(float(worked.computed)), 1e-3):
        return "none"
    text = value_text(away, worked.unit, 2)
    expected = worked.case.expected
    share = isinstance(expected, (int, float)) and expected and worked.unit != ""
    return f"{text} ({significant(100 * away / float(expected), 2)} %)" if share and expected else text


def inputs_text(case: Case) -> str:
    """The inputs of a case on one line; long lists by their length."""
    said = []
    for name, value in case.inputs.items():
        long = isinstance(value, (list, tuple)) and len(value) > 4
        said.append(f"{name} {f'{len(value)} rows' if long else value}")
    return ", ".join(said) or case.title


def mark_text(case: Case) -> str:
    """How far the expected value is known: the source's mark, and who computed it where nothing was read.

    >>> from landwise.proving import all_cases
    >>> sorted({mark_text(one) for one in all_cases() if one.source == "scipy"})
    ['computed by the library']
    """
    if case.mark != "computed":
        return case.mark
    if case.kind == "identity":
        return "as mathematics has it"
    library = bool(case.source) and source(case.source).kind == "library"
    return "computed by the library" if library else "computed by us"


def source_text(case: Case) -> str:
    """The source's title and where the case stands in it."""
    return f"{source(case.source).title}: {case.says}" if case.source else case.says
