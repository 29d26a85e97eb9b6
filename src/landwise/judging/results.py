"""What judging gives: options, parts, the board's totals, and the whole study, as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from landwise.assembly.lines import Line
from landwise.costs.board import PartCost
from landwise.costs.control import Controlled
from landwise.costs.loads import Load
from landwise.costs.prices import Price
from landwise.costs.rates import Rate
from landwise.errors import InputError
from landwise.evidence.figures import Figure
from landwise.judging.bench import Geometry
from landwise.judging.dropin import DropIn
from landwise.judging.notes import Note
from landwise.outlines.supply import Supply
from landwise.study.file import PartTable, Study, StudyFile
from landwise.version import __version__


@dataclass(frozen=True)
class Rejection:
    """Why an option is out: the limit's key, and the margin in words."""

    limit: str
    says: str


MOST_REFS = 3  # references of a part that a sentence names


@dataclass(frozen=True)
class OptionResult:
    """One package option of one part, judged.

    `cost` is its own share of a good board under the line's plan of inspection, without what the board shares;
    `loads` is what it pays whatever the plan, `controlled` what the plan has to do with it; `priced` is what one piece
    costs, quoted or guessed; `also_takes` the other packages that its lands take, with `choice_worth` what it is worth
    per piece to buy the cheaper one. `unshown` are keys of the study's limits that it is not shown to hold
    nor to break.
    """

    geometry: Geometry
    figures: Mapping[str, Figure]
    cost: PartCost
    priced: Price
    supply: Supply
    rejections: tuple[Rejection, ...]
    loads: tuple[Load, ...]
    controlled: Controlled
    area_mm2: float
    makers: int | None = None
    drop_in: DropIn = ""
    also_takes: tuple[str, ...] = ()
    choice_worth: float = 0.0
    unshown: tuple[str, ...] = ()

    @property
    def price(self) -> float | None:
        """The quoted price of one piece; None where nobody quoted it."""
        return self.priced.value

    @property
    def name(self) -> str:
        """The outline's name."""
        return self.geometry.outline.name

    @property
    def feasible(self) -> bool:
        """Whether no limit is broken."""
        return not self.rejections


@dataclass(frozen=True)
class Standing:
    """How the options of a part stand by the board's objective, the other parts held.

    Parameters
    ----------
    order : tuple of str
        Options that can be taken, the cheapest on average first.
    more : mapping of str to float
        What the board costs more on average with this option than with the first. [money per board]
    low, high : mapping of str to float
        90 % range of that difference, drawn together.
    wins : mapping of str to float
        Share of draws in which each is the cheapest.
    under : mapping of str to str
        What the board takes otherwise with an option than it is proposed to, in words: where it must, or that pays.
    """

    order: tuple[str, ...]
    more: Mapping[str, float]
    low: Mapping[str, float]
    high: Mapping[str, float]
    wins: Mapping[str, float]
    under: Mapping[str, str]


@dataclass(frozen=True)
class PartResult:
    """One part: its options judged and ranked, the choice and why.

    `options` are in rank order, rejected ones last; `present` is the package in use, `chosen` the
    recommendation (the present one for a locked part, None if nothing is feasible). `pieces` are bought in all; a price
    break counts them. `beside` is what its places pay for in any package: decoupling, tie-offs and tracks of parts that
    may be regrouped. `counts_field` says whether its options pay for their failures in the field. `reel` names number
    and family where other parts of the board have the same, so that one reel may serve them all.
    """

    part: PartTable
    terminals: int
    options: tuple[OptionResult, ...]
    present: OptionResult | None
    chosen: OptionResult | None
    standing: Standing | None
    says: str
    runner_up: str
    notes: tuple[Note, ...]
    pieces: int = 0
    beside: tuple[Load, ...] = ()
    counts_field: bool = False
    reel: str = ""

    @property
    def count(self) -> int:
        """How many of it the board carries."""
        return len(self.part.refs)

    @property
    def name(self) -> str:
        """First reference and how many more, where room is short."""
        more = f" +{self.count - 1}" if self.count > 1 else ""
        return f"{self.part.refs[0]}{more}"

    @property
    def changes(self) -> bool:
        """Whether another package than a known one in use is proposed."""
        return self.chosen is not None and self.present is not None and self.chosen.name != self.present.name

    @property
    def named(self) -> str:
        """Its references in a sentence, of many the first two and how many more."""
        refs = self.part.refs
        return ", ".join(refs) if len(refs) <= MOST_REFS else f"{', '.join(refs[:2])} and {len(refs) - 2} more"


@dataclass(frozen=True)
class BoardTotals:
    """Sums over the parts whose package today is known. Money in the study's unit.

    `defects` and `hidden_defects` are expected on one board, `first_pass` is the share of boards without any, `dpmo`
    counts parts, placements and joints as opportunities; drilled parts are in none of them. None where nothing is
    printed.
    """

    parts: int
    area_mm2: float
    cost: float
    placements: int
    holes: int
    hidden_joints: int
    outlines: int
    least_pitch_mm: float
    foil_demand: str
    prices_known: bool
    defects: float | None = None
    hidden_defects: float | None = None
    first_pass: float | None = None
    dpmo: float | None = None


@dataclass(frozen=True)
class StudyResult:
    """A whole study's outcome."""

    study: Study
    line: Line
    rates: Mapping[str, Rate]
    weights: Mapping[str, float]
    parts: tuple[PartResult, ...]
    before: BoardTotals | None
    after: BoardTotals | None
    notes: tuple[Note, ...]
    version: str = __version__

    @property
    def content(self) -> StudyFile:
        """The study file's content."""
        return self.study.content

    def wins(self, part: PartResult) -> float | None:
        """Share of all weightings in which a part's choice wins."""
        if part.chosen is None:
            return None
        return part.standing.wins.get(part.chosen.name) if part.standing else None

    def part(self, reference: str) -> PartResult:
        """The part that sits at a reference.

        Raises
        ------
        InputError
        """
        for result in self.parts:
            if reference in result.part.refs:
                return result
        raise InputError(
            "no such reference in the study",
            found=reference,
            expected=", ".join(p.part.refs[0] for p in self.parts[:8]),
        )
