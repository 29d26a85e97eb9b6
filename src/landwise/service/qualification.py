"""Towards qualification: which of the usual tests bear on package, joint and board, and what only a test can show.

Names and severities of standards are recalled unless a test's source says otherwise; work from the standard you
are held to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from landwise.errors import UnknownNameError
from landwise.outlines.model import FAMILIES, GRIDS, LEADED

Bears = Literal["package", "joint", "board"]
SURFACE = frozenset(FAMILIES) - {"dual in-line"}


@dataclass(frozen=True)
class Grade:
    """A temperature grade: its name and the ambient it promises. [°C]"""

    name: str
    low_c: float
    high_c: float
    source: str


GRADES: Mapping[str, Grade] = MappingProxyType(
    {
        grade.name: grade
        for grade in (
            Grade("commercial", 0, 70, "grades-memory"),
            Grade("industrial", -40, 85, "grades-memory"),
            Grade("automotive-3", -40, 85, "aec-grades-memory"),
            Grade("automotive-2", -40, 105, "aec-grades-memory"),
            Grade("automotive-1", -40, 125, "aec-grades-memory"),
            Grade("automotive-0", -40, 150, "aec-grades-memory"),
        )
    }
)


@dataclass(frozen=True)
class QualTest:
    """One usual test.

    Parameters
    ----------
    name, standard : str
    bears_on : {"package", "joint", "board"}
    families : frozenset of str
        Package families it is done on.
    figures : tuple of str
        Keys of the figures landwise works towards it; empty where it works none.
    only_test : str
        What no computation here can show.
    source : str
    """

    name: str
    standard: str
    bears_on: Bears
    families: frozenset[str]
    figures: tuple[str, ...]
    only_test: str
    source: str = "qualification-memory"


ALL = frozenset(FAMILIES)
TESTS: tuple[QualTest, ...] = (
    QualTest(
        "moisture soak and reflow",
        "J-STD-020, JESD22-A113",
        "package",
        SURFACE,
        ("floor-life", "reflow-peak"),
        "delamination, cracks and lifted bonds after soak and three reflows",
    ),
    QualTest(
        "temperature cycling of the package",
        "JESD22-A104",
        "package",
        ALL,
        (),
        "wire, die and passivation cracks inside the package",
    ),
    QualTest(
        "temperature cycling on the board",
        "IPC-9701",
        "joint",
        SURFACE,
        ("life", "test-life"),
        "the true life: finish, voids, defects, warpage and thick boards are outside every formula here",
        "ipc-9701-cycles-memory",
    ),
    QualTest(
        "power temperature cycling",
        "JESD22-A105",
        "joint",
        ALL,
        ("life", "junction-temperature"),
        "gradients inside the package while it switches",
    ),
    QualTest(
        "drop of the board",
        "JESD22-B111",
        "joint",
        SURFACE,
        ("shock", "push"),
        "brittle breaks at the interface; results compare, they don't predict the field",
        "b111-relative",
    ),
    QualTest(
        "vibration of the board",
        "IEC 60068-2-6 and -2-64",
        "joint",
        ALL,
        ("vibration",),
        "resonances of the mounted product",
    ),
    QualTest(
        "bending of the board",
        "IPC-9702, JESD22-B113",
        "board",
        SURFACE,
        ("pull", "handling"),
        "strain the assembler's fixtures put in, and craters under lands",
    ),
    QualTest(
        "ball shear",
        "AEC-Q100-010",
        "package",
        GRIDS,
        ("push",),
        "the bond of balls to the package: 3200 g/mm² of opening at least",
        "aec-010-shear",
    ),
    QualTest("lead integrity", "JESD22-B105", "package", frozenset({"dual in-line"}), (), "leads that break when bent"),
    QualTest(
        "coplanarity and outline", "JESD22-B108", "package", LEADED | GRIDS, ("contact",), "the lot's real coplanarity"
    ),
    QualTest("solderability", "J-STD-002", "joint", ALL, ("storage",), "wetting after storage"),
    QualTest(
        "tin whiskers",
        "JESD201",
        "joint",
        LEADED | {"dual in-line"},
        ("whiskers",),
        "whether the plating grows them",
    ),
    QualTest(
        "mixed flowing gas",
        "IEC 60068-2-60",
        "board",
        ALL,
        ("corrosion",),
        "creep corrosion and tarnish in your air",
    ),
    QualTest(
        "electrostatic discharge and latch-up",
        "JS-001, JS-002, JESD78",
        "package",
        ALL,
        ("charge",),
        "what the die stands: its data sheet says",
    ),
    QualTest(
        "humidity under bias",
        "JESD22-A101, A110",
        "package",
        ALL,
        ("clearance", "migration-field"),
        "corrosion inside the package and leakage across your residues",
    ),
    QualTest(
        "high-temperature life and storage",
        "JESD22-A108, A103",
        "package",
        ALL,
        ("junction-temperature", "die-hours"),
        "wear-out of the die and its bonds",
    ),
    QualTest(
        "shock, vibration and acceleration of cavity packages",
        "JESD22-B104, B103",
        "package",
        frozenset(),
        (),
        "nothing here: for packages with a cavity only",
        "aec-group-g",
    ),
)


def grade(name: str) -> Grade:
    """A temperature grade by name.

    Raises
    ------
    UnknownNameError

    Examples
    --------
    >>> grade("automotive-1").high_c
    125
    """
    if name not in GRADES:
        raise UnknownNameError("no such grade", found=name, expected=" | ".join(GRADES))
    return GRADES[name]


def bearing_on(family: str) -> tuple[QualTest, ...]:
    """The usual tests that bear on a package family.

    >>> any(test.name == "ball shear" for test in bearing_on("leadless quad"))
    False
    """
    return tuple(test for test in TESTS if family in test.families)
