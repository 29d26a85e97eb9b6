"""What stands beside an option in its row: what the board takes with it, what it is short of, how it is bought."""

from __future__ import annotations

from landwise.judging.results import OptionResult, PartResult
from landwise.results.verdict import short_marks


def supply_marks(option: OptionResult) -> list[str]:
    """Short marks beside an option; none where it is seen by several and nothing is remarkable."""
    marks = []
    if option.supply.state == "likely":
        marks.append("likely, not seen")
    elif option.supply.state in ("not seen", "not known"):
        marks.append(f"{option.supply.state}: ask first")
    if option.makers == 1:
        marks.append("one maker")
    if option.drop_in == "same lands":
        marks.append("fits today's lands")
    elif option.drop_in == "same terminals":
        marks.append("terminals as today")
    if option.also_takes:
        marks.append(f"lands also take {', '.join(option.also_takes[:2])}")
    return marks


def row_marks(option: OptionResult, part: PartResult) -> list[str]:
    """All that stands beside an option's row: what it takes, what keeps it from a plain "holds", how it is bought."""
    return [*taken_with(option, part), *short_marks(option), *supply_marks(option)]


def taken_with(option: OptionResult, part: PartResult) -> list[str]:
    """What the board takes with an option that it does not take as proposed, as a mark beside the option."""
    under = part.standing.under.get(option.name) if part.standing else None
    return [f"with {under}"] if under else []
