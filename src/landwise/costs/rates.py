"""The rates of the cost model: each with its range, its reason and its source.

Money is in the study's own unit. Rates are assumptions until the user types their own.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from types import MappingProxyType

from landwise.errors import InputError, UnknownNameError


@dataclass(frozen=True)
class Rate:
    """One rate of the cost model: value with plausible range, what it is for, and why it stands there.

    `share` marks a share of money; any other rate is an amount of it.
    """

    name: str
    value: float
    low: float
    high: float
    unit: str
    for_what: str
    reason: str
    source: str
    assumed: bool = True
    share: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.value <= self.high:
            raise InputError(
                "a rate out of order",
                place=f"costs, {self.name}",
                found=f"{self.low:g}, {self.value:g}, {self.high:g}",
                expected="0 ≤ low ≤ value ≤ high",
            )

    def given(self, value: float) -> Rate:
        """The same rate as the user states it: exact, no longer an assumption."""
        return Rate(
            self.name,
            value,
            value,
            value,
            self.unit,
            self.for_what,
            "stated in the study",
            "study",
            assumed=False,
            share=self.share,
        )

    @property
    def is_money(self) -> bool:
        """Whether it is an amount of money, not a share of one."""
        return not self.share

    def scaled(self, scale: float) -> Rate:
        """The same rate in other money; shares stay as they are."""
        if scale == 1 or not self.is_money:
            return self
        return replace(self, value=self.value * scale, low=self.low * scale, high=self.high * scale)


@cache
def default_rates() -> Mapping[str, Rate]:
    """The shipped rates by name.

    >>> default_rates()["placement"].unit
    'per part'
    """
    text = resources.files("landwise.costs").joinpath("rates.toml").read_text(encoding="utf-8")
    return MappingProxyType(
        {
            name: Rate(
                name,
                row["value"],
                row["low"],
                row["high"],
                row["unit"],
                row["for"],
                row["reason"],
                row["source"],
                share=row.get("share", False),
            )
            for name, row in tomllib.loads(text).items()
        }
    )


def rates_with(own: Mapping[str, float], scale: float = 1.0) -> Mapping[str, Rate]:
    """The rates with a user's own put in; shipped ones that are money are scaled to the user's.

    Raises
    ------
    UnknownNameError
        For a name that is not a rate.
    InputError
        For a negative rate.
    """
    rates = {name: rate.scaled(scale) for name, rate in default_rates().items()}
    for name, value in own.items():
        if name not in rates:
            raise UnknownNameError("no such rate", place="costs", found=name, expected=" | ".join(rates))
        rates[name] = default_rates()[name].given(value)
    return MappingProxyType(rates)
