"""[[regroup]] of the study file: parts near each other whose gates may come in other packages."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from landwise.study.fields import Table
from landwise.study.parttable import OptionTable


class KindTable(Table):
    """A package of the function that holds so many of it."""

    number: str = Field(min_length=1, description="its function number, such as 08 or 1G08")
    units: int = Field(gt=0, le=64, description="gates, or bits, in one package")
    terminals: int | None = Field(default=None, gt=0, le=2000, description="else the number's own")
    options: Literal["any"] | list[OptionTable] = Field(
        default="any", description="packages it is offered in, with prices; any lets the catalogue propose"
    )


class RegroupTable(Table):
    """Parts that lie near each other, so that their gates may share packages or come in several."""

    refs: list[str] = Field(min_length=1, description="one reference of each part; a part comes with all its places")
    kinds: list[KindTable] = Field(
        default_factory=list,
        description="packages that may take the gates; those of the function that landwise knows unless stated",
    )
