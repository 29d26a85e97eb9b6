"""The models of `result.json`: what a study's outcome looks like as plain data."""

from __future__ import annotations

from pydantic import Field

from landwise.results.answer import AnswerJson
from landwise.results.choicejson import ChoiceJson
from landwise.results.grouping import GroupingJson
from landwise.results.printjson import PrintJson
from landwise.results.scenarios import ScenariosJson
from landwise.results.strict import Strict
from landwise.untyped import Fields


class GivenJson(Strict):
    """One input of a step, and where it comes from."""

    value: float | str | bool | None = Field(default=None, description="null where it has no number or name")
    unit: str = ""
    origin: str = Field(description="stated, default, chosen, drawing, rule, simulation, or step")
    place: str = Field(
        default="",
        description="field of the study, drawing, rule; of an earlier step its key (REF:KEY for one of a part's choice,"
        " REF in OUTLINE:KEY for one of its package in use)",
    )
    reason: str = ""
    sources: list[str] = Field(default_factory=list)


class StepJson(Strict):
    """One link of a trail."""

    key: str = Field(default="", description="unique within its option")
    says: str
    inputs: dict[str, str]
    value: float | None
    unit: str
    low: float | None = Field(default=None, description="lower end of the 90 % interval, where it has one")
    high: float | None = None
    formula: str | None = Field(description="key in the formula book, if it is an entry there")
    by: str = Field(default="", description="the function that gives the value; empty for a remark")
    given: dict[str, GivenJson] = Field(default_factory=dict, description="its inputs")
    valid: str
    sources: list[str] = Field(description="keys of the table `sources`")


class FigureJson(Strict):
    """One judged number."""

    key: str
    title: str
    value: float | None
    unit: str
    low: float | None = Field(description="lower end of the 90 % interval")
    high: float | None
    better: str
    limit: float | None
    limit_source: str
    margin: float | None
    verdict: str
    why: str
    trail: list[StepJson]


class RejectionJson(Strict):
    """A hard limit that an option breaks."""

    key: str = Field(default="", description="of the limit")
    limit: str = Field(description="in words")
    says: str


class SupplyJson(Strict):
    """How the function stands in the package: what was stated, sighted or judged from like functions."""

    state: str = Field(description="stated | seen | likely | not seen | not known")
    sightings: int
    sources: int
    share: float | None
    compared: int


class PriceJson(Strict):
    """Price of one piece, quoted or guessed with the band that holds 90 %."""

    median: float
    low: float
    high: float
    basis: str = Field(description="stated | offer | prior | assumed")
    pairs: int = Field(description="compared parts behind a guessed one")
    against: str
    source: str
    level_sd: float = Field(description="spread of an assumed level's logarithm, shared by all packages of a part")


class CautionJson(Strict):
    """What must be told of an option before anything else."""

    key: str
    figure: str
    binds: bool = Field(description="no output may leave it out")
    value: float | None
    limit: float | None
    unit: str
    standard: str = Field(description="what to turn to")
    source: str
    text: str


class RatioJson(Strict):
    """One rate over another, drawn together; null where a rate is none."""

    value: float | None = Field(description="median")
    low: float = Field(description="5 % end")
    high: float | None = Field(description="95 % end; null without end")


class AgainstJson(RatioJson):
    """Defects of an option over those of another; bridges and opens by themselves, as a line would count them."""

    reference: str
    bridges: RatioJson | None = Field(default=None, description="whatever the cause")
    opens: RatioJson | None = Field(default=None, description="whatever the cause")


class LeftOutJson(Strict):
    """A way to fail that no mechanism works, so that only the other causes hold it."""

    key: str
    rate: str = Field(description="in which a line would count it: bridges | opens | moved")
    says: str


class OptionJson(Strict):
    """One package option of one part."""

    outline: str
    feasible: bool
    rejections: list[RejectionJson]
    supply: SupplyJson
    price: float | None = Field(description="of one piece at the pieces bought; null where nobody quoted it")
    priced: PriceJson
    makers: int | None = Field(description="makers that offer it, where the study or its offers count them")
    drop_in: str = Field(description="same part | same lands | same terminals | empty")
    also_takes: list[str] = Field(description="other packages that its lands take")
    choice_worth: float = Field(description="worth per piece of buying the cheaper of those that its lands take")
    cost: float
    area_mm2: float
    land_style: str
    verdict: str = Field(description="the worst of all that binds it: holds | marginal | fails | not known")
    unshown: list[str] = Field(default=[], description="limits of the study that it is neither shown to hold nor break")
    print: PrintJson | None = Field(default=None, description="how its openings were designed; null as asked")
    foil_demand: str
    more: float | None = Field(description="what the board costs more on average than with the first; null if out")
    more_low: float | None = Field(description="5 % end of that difference")
    more_high: float | None = Field(description="95 % end of that difference")
    wins: float | None = Field(description="share of joint draws in which it is the cheapest")
    under: str = Field(default="", description="what else the board takes with it than is proposed; empty if nothing")
    defects_against: AgainstJson | None = Field(
        default=None, description="its expected defects over those of the package in use, or else of the chosen one"
    )
    not_modelled: list[LeftOutJson] = Field(default_factory=list, description="what its rates leave out")
    cautions: list[CautionJson] = Field(default_factory=list, description="most serious first")
    figures: list[FigureJson]
    steps: dict[str, StepJson] = Field(default_factory=dict, description="what trails go back to and share")


class PartJson(Strict):
    """One part."""

    refs: list[str]
    number: str
    family: str
    function: str
    terminals: int
    present: str | None
    chosen: str | None
    says: str
    runner_up: str
    notes: list[str]
    note_keys: list[str] = Field(default_factory=list, description="what each note is about")
    guesses: list[str]
    options: list[OptionJson]


class TotalsJson(Strict):
    """Board sums."""

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
    defects: float | None = Field(default=None, description="expected on one board, drilled parts left out")
    hidden_defects: float | None = Field(default=None, description="of them, what can't be seen from above")
    first_pass: float | None = Field(default=None, description="share of boards without a defect")
    dpmo: float | None = Field(default=None, description="per million parts, placements and joints")


class SourceJson(Strict):
    """One source that a trail names."""

    title: str
    where: str
    mark: str


class ResultJson(Strict):
    """The whole result."""

    landwise_result: int = Field(description="version of this schema")
    version: str = Field(description="version of landwise that wrote it")
    board: str
    money: str
    line: Fields
    weights: dict[str, float]
    rates: Fields
    before: TotalsJson | None
    after: TotalsJson | None
    cautions: list[str] = Field(default_factory=list, description="of the chosen packages: what binds")
    asked: list[str] = Field(default_factory=list, description="what is assumed of its place, or contradicts itself")
    answer: AnswerJson | None = Field(default=None, description="decided, equal or not decided, and what it hangs on")
    notes: list[str]
    note_keys: list[str] = Field(default_factory=list, description="what each note is about")
    parts: list[PartJson]
    choice: ChoiceJson | None = Field(default=None, description="the whole board chosen at once; null with --each")
    scenarios: ScenariosJson | None = Field(
        default=None, description="one choice weighed over the study's scenarios; null where there are none"
    )
    grouping: GroupingJson | None = Field(
        default=None, description="how many packages; null where nothing is regrouped"
    )
    totals: list[FigureJson] = Field(default_factory=list, description="of the chosen board, each with its trail")
    steps: dict[str, StepJson] = Field(default_factory=dict, description="what trails of all options go back to")
    total_steps: dict[str, StepJson] = Field(default_factory=dict, description="what trails of the totals go back to")
    sources: dict[str, SourceJson]
