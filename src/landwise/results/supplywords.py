"""What is said beside an option about buying it: how it stands in the table of sightings, makers, drop-in."""

from __future__ import annotations

from landwise.judging.results import OptionResult, PartResult


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


def taken_with(option: OptionResult, part: PartResult) -> list[str]:
    """What the board takes with an option that it does not take as proposed, as a mark beside the option."""
    under = part.standing.under.get(option.name) if part.standing and option is not part.chosen else None
    return [f"with {under}"] if under else []
