"""Checks against the outside: worked cases of handbooks, standards and data sheets, and what the book gives."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from landwise.errors import InputError
from landwise.evidence.book import evaluate, formula
from landwise.evidence.figures import Verdict
from landwise.evidence.sources import MARKS

KINDS = ("outside", "identity", "own arithmetic")


@dataclass(frozen=True)
class Check:
    """One worked case.

    `expected` and `within`, which follows from the printed digits, are in the output's unit; `says` names the source.
    `kind` is `outside` where the expected value was read in the source or comes from a general-purpose library,
    `identity` where mathematics gives it, `own arithmetic` where we worked it from the source's constants: only the
    first counts as a check against the outside. `mark` says how far the source was read.

    Raises
    ------
    InputError
        For a kind or a mark that there is not.
    """

    formula: str
    inputs: Mapping[str, str]
    output: str
    expected: float
    within: float
    says: str
    kind: str
    mark: str

    def __post_init__(self) -> None:
        for found, known in ((self.kind, KINDS), (self.mark, MARKS)):
            if found not in known:
                raise InputError("unknown kind of check", place=self.formula, found=found, expected=" | ".join(known))


@dataclass(frozen=True)
class WorkedCheck:
    """A check with what the book computes for it."""

    check: Check
    computed: float
    unit: str

    @property
    def deviation(self) -> float:
        """Computed less expected, in the output's unit."""
        return self.computed - self.check.expected

    @property
    def verdict(self) -> Verdict:
        """Whether the deviation is within the printed digits."""
        return "holds" if abs(self.deviation) <= max(self.check.within, 1e-12) else "fails"


@cache
def all_checks() -> tuple[Check, ...]:
    """Every check, in the order of the book's rooms.

    >>> all(check.says for check in all_checks())
    True
    """
    text = resources.files("landwise.evidence").joinpath("checks.toml").read_text(encoding="utf-8")
    return tuple(Check(**row) for row in tomllib.loads(text)["check"])


def work(check: Check) -> WorkedCheck:
    """Work a check.

    >>> worked = work(all_checks()[0])
    >>> worked.verdict, worked.check.output
    ('holds', 'strain_range')
    """
    units = {output.name: output.unit for output in formula(check.formula).outputs}
    value = evaluate(check.formula, check.inputs).outputs[check.output]
    return WorkedCheck(check, float(value), units[check.output])
