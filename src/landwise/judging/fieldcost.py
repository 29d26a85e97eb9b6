"""What failures in the field are expected to cost: only where somebody states one's cost and lives are anchored.

A level that nobody measured never decides as a point. So a part's failures are counted only where the life of every
package that it could come in rests on measurements, or is held by the whole of its interval; else they are left out of
all of them alike, and that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from landwise.costs.board import part_cost
from landwise.costs.control import control_loads
from landwise.costs.loads import Line, Load
from landwise.evidence.figures import Figure
from landwise.evidence.trails import Step, worked
from landwise.judging import lifevalues as values
from landwise.judging.limits import LimitKey
from landwise.judging.money import cost_figure
from landwise.judging.results import OptionResult
from landwise.service.environments import Environment
from landwise.service.lives import Life

if TYPE_CHECKING:
    from landwise.judging.bench import Bench

RATE = "field_failure"
# What another foil, powder, inspection or class of board may lift: an option that breaks only these may yet be chosen.
LIFTED = frozenset(
    {
        LimitKey.FOIL,
        LimitKey.FOIL_PRINTS,
        LimitKey.FOIL_REACHES,
        LimitKey.POWDER_PASSES,
        LimitKey.HIDDEN_JOINTS,
        LimitKey.LAYERS,
        LimitKey.LAND_GAP,
    }
)


def life_in(figure: Figure) -> tuple[Life, Environment, Step] | None:
    """A life figure's life, its place, and the step that holds it to the years; None where no method reaches."""
    step = figure.gives
    if step is None or "life" not in step.given or "place" not in step.given:
        return None
    found, place = step.given["life"].value, step.given["place"].value
    return (found, place, step) if isinstance(found, Life) and isinstance(place, Environment) else None


def anchored(option: OptionResult) -> bool:
    """Whether an option's life rests on measurements, or holds over the whole of its interval."""
    life = option.figures["life"]
    return life.value is not None and (life.measured or life.verdict == "holds")


def unanchored(options: Sequence[OptionResult]) -> tuple[str, ...]:
    """Names of the options that could be chosen and whose life nothing anchors."""
    able = [one for one in options if all(why.limit in LIFTED for why in one.rejections)]
    return tuple(one.name for one in able if not anchored(one))


def failed_step(option: OptionResult) -> Step | None:
    """The share expected to fail within the years wanted, as a step; None where no method reaches."""
    found = life_in(option.figures["life"])
    if found is None:
        return None
    given = found[2].given
    return worked(
        "share expected to fail within the years wanted, over all that isn't known of its life",
        values.expected_failed,
        {"life": given["life"], "place": given["place"]},
        sources=("weibull-dfr",),
    )


def counts_field(option: OptionResult) -> bool:
    """Whether an option pays for its failures in the field."""
    return any(load.line == Line.FIELD for load in option.loads)


def without_field(option: OptionResult) -> OptionResult:
    """The option as the board weighs it where failures in the field are left out."""
    return replace(option, loads=tuple(load for load in option.loads if load.line != Line.FIELD))


def with_field(option: OptionResult, bench: Bench) -> OptionResult:
    """The option with what its failures in the field are expected to cost.

    Where no method reaches its life under this print, though it does under another, it is taken to fail: nothing shows
    that it lasts.
    """
    step = failed_step(option)
    share = 1.0 if step is None or step.value is None else step.value
    loads = (*option.loads, Load(Line.FIELD, (RATE,), share))
    own = (*loads, *control_loads(option.controlled, bench.plan))
    cost = part_cost(own, bench.rates, bench.content.costs.run, option.priced)
    figure = cost_figure(cost, option.geometry, bench, field=(share, step))
    return replace(option, loads=loads, cost=cost, figures=MappingProxyType({**option.figures, "cost": figure}))
