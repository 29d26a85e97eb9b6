"""The whole-board choice in `result.json`: the models of its data."""

from __future__ import annotations

from pydantic import Field

from landwise.results.strict import Strict


class LimitJson(Strict):
    """What the board would save without one limit."""

    name: str = Field(description="in words")
    key: str = ""
    of: str = Field(default="", description="the part or figure that it concerns, where its key does not say all")
    saved: float
    decision: str = Field(description="the shared decision that would then be best")
    options: dict[str, str]


class HoldJson(Strict):
    """What the board would save if one part did not care about the shared decision."""

    part: str
    ref: str = Field(default="", description="the part's first reference")
    saved: float
    decision: str = Field(description="where the board would go without it")


class AlternativeJson(Strict):
    """The best board in which one part comes in another option."""

    part: str
    ref: str = Field(default="", description="the part's first reference")
    option: str
    more: float = Field(description="what that board costs more")
    decision: str


class SecondJson(Strict):
    """The runner-up among all choices."""

    value: float
    behind: float
    differs: list[str]


class ChangeJson(Strict):
    """The best board with at most so many parts changed from today's."""

    changes: int
    changed: list[str]
    saved: float
    decision: str
    options: dict[str, str]


class KeptJson(Strict):
    """A part that keeps today's package, since changing it saves less than counts as equal."""

    ref: str = Field(description="the part's first reference")
    package: str
    cheapest: str = Field(description="the package that is cheapest on average")


class PointJson(Strict):
    """One choice of the trade-off."""

    values: list[float] = Field(description="in the order of `axes`")
    decision: str
    options: dict[str, str]


class RelaxedJson(Strict):
    """The least change of one limit that makes the board possible; `least` where no less can do, if that is lower.

    `needed` is null where none that is enough was found in the time, or none `helps`.
    """

    name: str
    key: str = ""
    of: str = ""
    needed: float | None
    least: float | None = None
    helps: bool = Field(default=True, description="whether a change of it alone can do; else others conflict as well")
    limit: float | None
    unit: str
    parts: list[str]


class BoardFlipJson(Strict):
    """The nearest value of one input at which another board becomes the best."""

    what: str
    key: str = Field(default="", description="rate, price or transfer")
    of: str = Field(default="", description="the rate's name, or the outline whose price or transfer it is")
    ref: str = Field(default="", description="of the part, for a price or a transfer")
    now: float = Field(description="today's value; of a paste transfer, the middle of its band")
    at: float
    unit: str = Field(default="", description="of both values")
    options: dict[str, str]
    decision: str
    differs: list[str]


class RangeJson(Strict):
    """An uncertain input and the range it was drawn from."""

    name: str
    value: float
    low: float
    high: float


class FirmJson(Strict):
    """How firm the choice is: the board chosen anew for many draws of its uncertain inputs."""

    draws: int
    searched: int = Field(description="draws that wanted a search of their own")
    impossible: int = Field(description="draws in which no board keeps the limits")
    confidence: float = Field(description="share of draws in which exactly this board wins")
    inputs: list[RangeJson] = Field(description="what was drawn, beside each part's price and the line's transfer")
    wins: dict[str, dict[str, float]] = Field(description="share of draws in which each option is in the best board")
    axes: list[str] = Field(description="what was weighed for the next three")
    weight_confidence: float | None = Field(
        description="share of draws of the inputs and of all weightings of the axes in which exactly this board wins"
    )
    weight_wins: dict[str, dict[str, float]] = Field(
        description="share of draws of the inputs and of all weightings in which each option wins"
    )
    central: list[float] | None = Field(description="average weights of the axes among the draws this board wins")
    flips: list[BoardFlipJson] = Field(description="nearest first")


class OtherJson(Strict):
    """Another shared decision at its best."""

    decision: str
    more: float | None = Field(description="what the best board under it costs more; null if there is none")
    kept_out: list[str] = Field(description="parts that no option fits there")
    limits: list[str] = Field(description="what stops the nearest options of those parts")
    limit_keys: list[str] = Field(default_factory=list, description="their keys")


class PlaceJson(Strict):
    """Where one courtyard or test land lies; x and y of its lower left corner, lengths as placed."""

    name: str
    outline: str = Field(description="of a part; of a test land its probe's grid")
    kind: str = Field(description="part or test land")
    side: str = Field(description="top, bottom, or both for a drilled part")
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    turned: bool = Field(description="a quarter turn from the outline as drawn")
    foil_um: float | None = Field(description="over the part; null where nothing is printed")


class StretchJson(Strict):
    """A stretch of one side kept free for all else; keep-outs within it don't count."""

    side: str
    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float


class WayOutJson(Strict):
    """The cheapest board of the trade-off for which a placement was found."""

    board: int = Field(description="its number in `points`, from 1")
    more: float = Field(description="money per board above the choice")
    differs: list[str]


class PlacingJson(Strict):
    """Whether the courtyards lie on the board: a packing check, not a layout."""

    verdict: str = Field(description="fits (with a checked placement), does not fit (proven), or not shown")
    why: str
    says: str
    share: float = Field(description="area of courtyards, test lands and reserved area over the free area")
    places: list[PlaceJson] = Field(description="of everything where it fits, else the best attempt")
    left_out: list[str] = Field(description="what the best attempt has no place for")
    reserved: list[StretchJson]
    today: str | None = Field(description="the verdict for today's packages")
    way_out: WayOutJson | None = Field(
        description="where the choice has no placement: a board of the trade-off that has"
    )
    unplaced: list[str] = Field(description="parts whose package is not known")


class NextSizeJson(Strict):
    """The next size at which a board on its panel costs less."""

    images: int = Field(description="boards a panel")
    length_mm: float
    width_mm: float
    more_mm2: float = Field(description="board area still to be saved")
    saves: float = Field(description="money per board")


class PanelJson(Strict):
    """The board on its panel."""

    fixed: bool = Field(description="whether the outline is fixed, so that saved area is room and no money")
    images: int = Field(description="boards a panel, as chosen")
    today_images: int
    length_mm: float
    width_mm: float
    today_length_mm: float
    today_width_mm: float
    saved_mm2: float = Field(description="courtyards of today less those chosen")
    money: float = Field(description="for the panel, per board, as chosen")
    today_money: float
    unit: str = Field(default="", description="of the money")
    following: NextSizeJson | None


class ChoiceJson(Strict):
    """One choice for all parts and for what they share."""

    status: str = Field(description="optimal, stopped or infeasible")
    objective: str
    unit: str
    value: float | None = Field(description="of the objective, least of all choices")
    bound: float | None = Field(description="no choice can be below it")
    gap: float | None
    taken: float | None = Field(default=None, description="of the objective, for this choice: above `value` by `kept`")
    kept: list[KeptJson] = Field(default_factory=list, description="today's packages kept among equals")
    proof: str = Field(description="what is proven, and why this choice is taken where it is not the least")
    decision: str
    decisions: list[str] = Field(description="every shared decision that was weighed")
    equal: list[str] = Field(description="other shared decisions that do as well for the same options")
    cost: float | None = Field(description="per good board")
    today: float | None = Field(description="cost of today's board")
    options: dict[str, str] = Field(description="outline by the part's first reference")
    limits: list[LimitJson]
    holds: list[HoldJson]
    others: list[OtherJson] = Field(default_factory=list, description="other shared decisions, nearest first")
    alternatives: list[AlternativeJson]
    second: SecondJson | None
    steps: list[ChangeJson] = Field(description="migration list")
    steps_from: str = Field(
        default="", description="where the migration list starts, if not from today's board as it is"
    )
    gain: str
    axes: list[str]
    complete: bool = Field(description="whether the trade-off holds every point there is")
    risk: str = Field(description="what the risk axis is")
    points: list[PointJson]
    firm: FirmJson | None = None
    placing: PlacingJson | None = Field(default=None, description="null where the study gives no board size")
    panel: PanelJson | None = Field(default=None, description="null where no panel is stated")
    conflict: list[str]
    conflict_keys: list[str] = Field(default_factory=list, description="their keys")
    relaxed: list[RelaxedJson]
    stuck: list[str] = Field(description="parts that no option fits, left out of the choice")
    left_out: list[str] = Field(default_factory=list, description="explanations that a stop left out or cut short")
