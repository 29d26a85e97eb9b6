"""Working the cases: what landwise computes, how far that is from what is printed, and the counts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from landwise.errors import InputError
from landwise.evidence import Verdict, evaluate, formula
from landwise.proving.gathered import gathered
from landwise.proving.measures import measured
from landwise.proving.tables import Case, cases_of, tables


@dataclass(frozen=True)
class Worked:
    """A case with what landwise computes for it, in `unit`."""

    case: Case
    computed: float | str
    unit: str

    @property
    def deviation(self) -> float | None:
        """Computed less printed; how far outside the printed limits where only these are; None for words."""
        if isinstance(self.computed, str):
            return None
        if isinstance(self.case.expected, (int, float)):
            return self.computed - self.case.expected
        return min(self.computed - self.case.low, 0.0) or max(self.computed - self.case.high, 0.0)

    @property
    def verdict(self) -> Verdict:
        """Whether it keeps the printed value's limits, or is the printed word."""
        if isinstance(self.computed, str) or isinstance(self.case.expected, str):
            return "holds" if self.computed == self.case.expected else "fails"
        slack = 1e-9 * max(abs(self.computed), 1e-6)
        return "holds" if self.case.low - slack <= self.computed <= self.case.high + slack else "fails"


@dataclass(frozen=True)
class Tally:
    """How many cases of a kind and sort there are, how many don't hold, and from how many sources they come."""

    cases: int
    fail: int
    sources: int


@cache
def all_cases() -> tuple[Case, ...]:
    """Every case: the tables of `cases/`, then what other files of the package hold.

    >>> all(case.says for case in all_cases() if case.kind == "outside")
    True
    """
    listed = (case for table in tables().values() for case in cases_of(table, table["file"]))
    return (*listed, *gathered())


def work(case: Case) -> Worked:
    """Work a case.

    >>> worked = work(all_cases()[0])
    >>> worked.verdict
    'holds'
    """
    kind, _, key = case.answers.partition(" ")
    if kind == "formula":
        entry, _, output = key.partition(".")
        value = evaluate(entry, case.inputs).outputs[output]
        if value is None:
            raise InputError("the formula gives no such output here", place=case.answers)
        unit = next(one.unit for one in formula(entry).outputs if one.name == output)
        return Worked(case, value if isinstance(value, str) else float(value), unit)
    value = measured(key, case.inputs)
    return Worked(case, value if isinstance(value, str) else float(value), case.unit)


def tally(worked: Iterable[Worked], kind: str, *sorts: str) -> Tally:
    """Count the cases of a kind and of some sorts (all where none is named)."""
    found = [one for one in worked if one.case.kind == kind and (not sorts or one.case.sort in sorts)]
    fail = sum(one.verdict != "holds" for one in found)
    return Tally(len(found), fail, len({one.case.source for one in found}))


GATHERED = {
    "printed-lands": "lands",
    "fatigue-bounds": "life",
    "transfer-bounds": "printing",
    "outline-drawings": "drawings",
}


def group(case: Case) -> str:
    """The group that a case is listed in: its file's name, or the room it is about.

    >>> group(all_cases()[-1])
    'drawings'
    """
    return GATHERED.get(case.table) or str(tables()[case.table]["file"]).removesuffix(".toml")
