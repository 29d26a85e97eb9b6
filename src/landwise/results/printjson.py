"""An option's designed print in the result: what binds it, what stands beside it, what a micrometre buys."""

from __future__ import annotations

from pydantic import Field

from landwise.designing.variables import Changes
from landwise.designing.why import Beside, Binding, Buys, Reasons
from landwise.designing.words import design_words, land_words, reasons_lines
from landwise.judging.bench import Geometry
from landwise.results.strict import Strict


class BindingJson(Strict):
    """One thing that holds a print where it is."""

    key: str = Field(description="a way to fail, the nearest one, or the limit that is met")
    terminal: str
    other: str = Field(description="second terminal of a pair, otherwise empty")
    value: float
    limit: float
    unit: str = Field(description="sd: standard deviations; um: micrometres; empty: a share")


class BesideJson(Strict):
    """Another print of the same part on the same foil."""

    kind: str
    margin: float = Field(description="standard deviations to the nearest defect")


class BuysJson(Strict):
    """What would widen the margin, in standard deviations per micrometre."""

    thinner_foil: float
    thicker_foil: float
    print_offset: float
    placement_offset: float


class MovedJson(Strict):
    """What became of the lands where they are designed with the print."""

    reason: str = Field(description="moved | wide enough | no gain | no range | not worked")
    level: str = Field(description="of the goals that the lands are taken from")
    gain: float = Field(description="standard deviations over the default lands with their designed print")
    tried: int


class PrintJson(Strict):
    """How an option's openings come to be what they are."""

    reason: str = Field(description="designed, or why the openings stay as the lands")
    binds: list[BindingJson] = Field(default_factory=list)
    beside: list[BesideJson] = Field(default_factory=list)
    buys: BuysJson | None = None
    lands: MovedJson | None = Field(default=None, description="null where lands are not designed")


def print_data(geometry: Geometry) -> dict[str, object] | None:
    """The designed print of an option as plain data; None where none was asked for."""
    design, reasons, moved = geometry.design, geometry.reasons, geometry.moved
    if design is None:
        return None
    found: dict[str, object] = {"reason": design.reason}
    if reasons is not None:
        found["binds"] = [dict(vars(one)) for one in reasons.binds]
        found["beside"] = [{"kind": one.kind, "margin": one.margin} for one in reasons.beside]
        found["buys"] = dict(vars(reasons.buys))
    if moved is not None:
        level = moved.pattern.level
        found["lands"] = {"reason": moved.reason, "level": level, "gain": moved.gain, "tried": moved.tried}
    return found


def print_lines(geometry: Geometry) -> list[str]:
    """The same in words: what the openings are, what became of the lands, what binds, beside, buys."""
    design, reasons, moved = geometry.design, geometry.reasons, geometry.moved
    found = [] if design is None else [design_words(design)]
    found += [] if moved is None else [land_words(moved)]
    return found + ([] if reasons is None else list(reasons_lines(reasons)))


def lines_of(told: PrintJson) -> tuple[str, ...]:
    """What a result's file says of what binds, stands beside and buys, in words; empty where it holds none."""
    if told.buys is None:
        return ()
    return reasons_lines(
        Reasons(
            tuple(Binding(**one.model_dump()) for one in told.binds),
            # The file's schema was checked: its kinds are the literals.
            tuple(Beside(one.kind, Changes(), one.margin) for one in told.beside),  # type: ignore[arg-type]
            Buys(**told.buys.model_dump()),
        )
    )
