"""[[scenario]] of the study file: how volumes, money, prices or the assembler may turn out, each under a name."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from landwise.study.fields import Table
from landwise.study.offers import OfferTable


class ScenarioTable(Table):
    """One way things may turn out: what differs from the study; all else is as the study has it."""

    name: str = Field(min_length=1, max_length=60, description="what it is called in tables")
    run: int | None = Field(default=None, gt=0, description="boards to be built; else costs.run")
    rates: dict[str, float] = Field(default_factory=dict, description="cost rates that differ from the study's")
    rate_factor: float | None = Field(default=None, gt=0, description="else costs.rate_factor")
    prices: dict[str, dict[str, Annotated[float, Field(ge=0)]]] = Field(
        default_factory=dict,
        description="price of one piece, by a part's first reference and then by outline, of options that the part"
        " names",
    )
    offers: list[str] | None = Field(default=None, description="offer files, instead of the study's")
    offer: list[OfferTable] = Field(default_factory=list, description="offers beside those")
    line: str | None = Field(
        default=None,
        description="another assembler: a preset (ordinary | fine | bench), or a line file beside the study; it stands"
        " before what [line] states",
    )
