"""The schema of review.json."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from landwise.evidence.figures import Verdict
from landwise.review.checks import KEYS
from landwise.review.mending import RULES

SCHEMA_VERSION = 2


class _Rows(BaseModel):
    model_config = ConfigDict(extra="forbid")


class FoilRows(_Rows):
    """One foil for a whole side."""

    foil_um: float = Field(description="thickness [µm]")
    holds: int
    marginal: int
    fails: int = Field(description="apertures with that verdict")
    least_area_ratio: float
    defects: float = Field(description="expected on one board with the film as it came")
    defects_low: float
    defects_high: float = Field(description="90 % range of that expectation")
    after: float = Field(description="expected after the corrections nobody would object to under this foil")
    after_low: float
    after_high: float
    parts_told: int = Field(description="parts whose joints are counted; of the others, prints short of paste")
    parts: int


class StepRows(_Rows):
    """The best step-down foil, where one improves on the best single foil."""

    base_um: float
    thin_um: float
    keep_out_mm: float = Field(description="step's edge to the first aperture in the zone")
    keep_out_thick_mm: float = Field(description="step's edge to the first aperture outside")
    zones: list[list[list[float]]] = Field(description="outlines of the zones, x and y [mm]")
    apertures: int = Field(description="apertures in zones")
    parts: list[str] = Field(description="parts whose thinner foil pays")
    defects: float = Field(description="expected on one board, after correction")
    saves: float = Field(
        description="rework saved over the run less the step's extra charge, in money of the cost rates"
    )
    saves_low: float
    saves_high: float


class FindingRows(_Rows):
    """One finding."""

    key: str = Field(description="which check: " + ", ".join(KEYS))
    level: Verdict
    component: str
    apertures: list[int] = Field(description="rows of the paste layer, from 0 in file order")
    x_mm: float
    y_mm: float
    says: str
    value: float | None
    limit: float | None
    unit: str
    sources: list[str]


class PartRows(_Rows):
    """One part with paste."""

    name: str
    kind: str
    named_by: Literal["attributes", "placement", "geometry"]
    package: str
    lands: int
    apertures: int
    pitch_mm: float | None
    x_mm: float
    y_mm: float
    verdict: Verdict
    least_area_ratio: float
    defects: float
    defects_counted: bool = Field(description="whether its joints are counted, or only its prints")


class ProposalRows(_Rows):
    """One correction of alike parts."""

    number: int
    rule: str = Field(description=", ".join(RULES))
    package: str
    parts: list[str]
    what: str
    reason: str
    asked: str = Field(description="why somebody should say yes first; empty where nobody would object")
    defects_before: float | None
    defects_after: float | None
    rejects_before: float
    rejects_after: float


class ChangeRows(_Rows):
    """One changed aperture."""

    proposal: int
    aperture: int = Field(description="row of the paste layer; -1 for a new one")
    x_mm: float
    y_mm: float
    decided: str = Field(description="accepted or refused by the decisions file; empty where it says nothing")
    written: bool = Field(description="whether the corrected layer holds it")
    component: str
    what: str
    reason: str
    effect: str
    area_before_mm2: float
    area_after_mm2: float
    area_ratio_before: float | None
    area_ratio_after: float | None


class ApertureColumns(_Rows):
    """Every aperture of the side under its best foil, as columns of equal length in file order."""

    x_mm: list[float]
    y_mm: list[float]
    length_mm: list[float]
    width_mm: list[float]
    area_mm2: list[float]
    area_ratio: list[float]
    transfer: list[float]
    transfer_low: list[float]
    transfer_high: list[float]
    paste_mm3: list[float]
    solder_mm3: list[float]
    land_share: list[float | None] = Field(description="paste over land area times foil; null without a land")
    gap_mm: list[float | None] = Field(description="to the next print; null where none is near")
    on_land: list[float] = Field(description="share of the opening that lies on lands")
    part: list[int] = Field(description="row of `parts` in this side; -1 for none")
    verdict: list[Verdict]


class SideRows(_Rows):
    """One side of the board."""

    side: Literal["top", "bottom"]
    lands_from: str
    best_foil_um: float
    equal_foils_um: list[float] = Field(description="foils that are its equals within what is known")
    uncorrected_foil_um: float = Field(description="best for the film as it came")
    says: str
    foils: list[FoilRows]
    step: StepRows | None
    registration: dict[str, float] | None = Field(
        description="shift, scale and turn of the paste film against the copper"
    )
    findings: list[FindingRows]
    parts: list[PartRows]
    proposals: list[ProposalRows]
    changes: list[ChangeRows]
    expected: list[float] = Field(description="defects of one board as written, under the best foil: middle, low, high")
    apertures: ApertureColumns


class ReviewRows(_Rows):
    """The whole file."""

    schema_version: Literal[2]
    landwise: str
    data_date: str
    board: str
    line: str
    technology: str
    powder: str
    foils_um: list[float]
    run: int
    verdict: Verdict
    reading: list[str] = Field(description="which file was taken for which layer, and why")
    notes: list[str]
    sides: list[SideRows]
    sources: dict[str, dict[str, str]]


def review_schema() -> dict[str, object]:
    """JSON Schema of review.json."""
    schema = ReviewRows.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "landwise review"
    return schema
