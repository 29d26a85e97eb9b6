"""How joints are controlled: plans of inspection and test, and how much of each kind of defect a plan finds."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import product
from types import MappingProxyType
from typing import Literal

from landwise.access.inspection import SIGHTS, Sight
from landwise.errors import InputError, UnknownNameError
from landwise.untyped import Table

DefectKind = Literal["bridge", "open", "other"]
KINDS: tuple[DefectKind, ...] = ("bridge", "open", "other")
OPTICAL, SIDE, XRAY, PASTE = "optical", "side-view", "x-ray", "paste"
FUNCTIONAL, IN_CIRCUIT = "functional", "in-circuit"
TESTS = ("none", FUNCTIONAL, IN_CIRCUIT)
FIRST_PIECES = 5  # boards that X-ray looks at before a run goes on (common practice, no source)
SAMPLED = 0.01  # share of the boards after them that a sampled X-ray looks at (common practice, no source)
Stage = Literal["before reflow", "after reflow", "at test"]


@dataclass(frozen=True)
class Share:
    """A share between 0 and 1 with its 90 % range."""

    low: float
    value: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.value <= self.high <= 1:
            raise InputError(
                "a share out of order",
                found=f"{self.low:g}, {self.value:g}, {self.high:g}",
                expected="0 ≤ low ≤ value ≤ high ≤ 1",
            )


NOTHING = Share(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class ControlStep:
    """One step of inspection or test: when it looks, what it needs, and what share of which defects it finds."""

    key: str
    says: str
    when: Stage
    views: tuple[str, ...]
    finds: Mapping[tuple[Sight, DefectKind], Share]
    reason: str
    source: str

    def share(self, sight: Sight, kind: DefectKind) -> Share:
        """Share of defects of a kind that it finds on joints that can be seen from there."""
        return self.finds.get((sight, kind), NOTHING)


@cache
def control_steps() -> Mapping[str, ControlStep]:
    """The steps shipped, by key.

    >>> control_steps()["x-ray"].share("not at all", "bridge").value
    0.98
    """
    text = resources.files("landwise.access").joinpath("control.toml").read_text(encoding="utf-8")
    return MappingProxyType({key: _step(key, row) for key, row in tomllib.loads(text).items()})


def _step(key: str, row: Table) -> ControlStep:
    finds: dict[tuple[Sight, DefectKind], Share] = {}
    for sight in SIGHTS:
        for kind in KINDS:
            if kind in row["finds"].get(sight, {}):
                finds[sight, kind] = Share(*row["finds"][sight][kind])
    return ControlStep(
        key=key,
        says=row["says"],
        when=row["when"],
        views=tuple(row["views"]),
        finds=MappingProxyType(finds),
        reason=row["reason"],
        source=row["source"],
    )


@dataclass(frozen=True)
class Plan:
    """What a board's joints go through: steps by key, and the share of boards that X-ray looks at.

    `xray_share` is 0 without X-ray, 1 where every board is looked at. First pieces come on top; that they show defects
    of single joints is not counted.
    """

    steps: tuple[str, ...]
    xray_share: float = 0.0

    def __post_init__(self) -> None:
        for key in self.steps:
            if key not in control_steps():
                raise UnknownNameError("no such step", found=key, expected=" | ".join(control_steps()))
        if not 0 <= self.xray_share <= 1 or (self.xray_share > 0) != (XRAY in self.steps):
            raise InputError("a share of boards for X-ray", found=f"{self.xray_share:g}", expected="0 to 1, with X-ray")

    @property
    def views(self) -> tuple[str, ...]:
        """From where its inspection looks, in the words of `assembly.lines.VIEWS`."""
        seen = (view for key in self.steps for view in control_steps()[key].views)
        return tuple(view for view in dict.fromkeys(seen) if view != "paste")

    @property
    def sampled(self) -> bool:
        """Whether X-ray looks at some boards only."""
        return 0 < self.xray_share < 1


@dataclass(frozen=True)
class Found:
    """Where defects end, as shares: found in the print, after reflow, at test, or not at all."""

    in_print: float
    inspected: float
    tested: float
    escaped: float


def plans_of(inspection: Sequence[str], test: str) -> tuple[Plan, ...]:
    """Every plan a line can run: what it always does, and each further step with and without.

    Parameters
    ----------
    inspection : sequence of str
        What the line can look at: `optical`, `side view`, `x-ray`, `paste`.
    test : str
        One of `TESTS`: the test that every board goes through.

    Raises
    ------
    UnknownNameError

    Examples
    --------
    >>> [plan.xray_share for plan in plans_of(["optical", "x-ray"], "functional")]
    [0.0, 0.01, 1.0]
    """
    if test not in TESTS:
        raise UnknownNameError("no such test", place="line, test", found=test, expected=" | ".join(TESTS))
    always = ((OPTICAL,) if "optical" in inspection else ()) + ((test,) if test != "none" else ())
    side = (False, True) if "side view" in inspection else (False,)
    paste = (False, True) if "paste" in inspection else (False,)
    xray = (0.0, SAMPLED, 1.0) if "x-ray" in inspection else (0.0,)
    found = []
    for with_side, with_paste, share in product(side, paste, xray):
        steps = (*always, *((SIDE,) if with_side else ()), *((PASTE,) if with_paste else ()))
        found.append(Plan((*steps, XRAY) if share else steps, share))
    return tuple(found)


def found_by(plan: Plan, sight: Sight, kind: DefectKind, steps: Mapping[str, ControlStep] | None = None) -> Found:
    """Where defects of a kind end under a plan, on joints that can be seen from there.

    Parameters
    ----------
    plan : Plan
    sight : Sight
    kind : DefectKind
    steps : mapping, optional
        The user's own figures for the steps; the shipped ones otherwise.

    Notes
    -----
    Steps are taken to miss independently of each other: what one misses the next finds with its own share. Steps that
    look for the same sign miss together more than that, so the escapes are a lower estimate.

    Examples
    --------
    >>> plan = Plan(("optical", "functional"))
    >>> round(found_by(plan, "not at all", "open").escaped, 3)
    0.2
    """
    known = control_steps() if steps is None else steps
    left, ends = 1.0, {"before reflow": 0.0, "after reflow": 0.0, "at test": 0.0}
    order = {"before reflow": 0, "after reflow": 1, "at test": 2}
    for key in sorted(plan.steps, key=lambda key: order[known[key].when]):
        step = known[key]
        share = step.share(sight, kind).value * (plan.xray_share if key == XRAY else 1.0)
        ends[step.when] += left * share
        left *= 1 - share
    return Found(ends["before reflow"], ends["after reflow"], ends["at test"], left)
