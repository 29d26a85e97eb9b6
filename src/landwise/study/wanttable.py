"""[want] and [costs] of the study file: limits, weights, what is chosen for, and money."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from landwise.study.fields import Length, Table, default


def _supply_word(word: object) -> object:
    """Studies written before supply was judged by function say "usual": what is seen or likely now."""
    return "likely" if word == "usual" else word


class Want(Table):
    """Limits and weights."""

    max_height: Length | None = default(None, "tallest part allowed", "no limit unless stated")
    max_area: float | None = default(None, "largest courtyard allowed for one part, mm2", "no limit unless stated")
    least_gap: Length = default(
        0.10, "narrowest gap between lands", "what board makers hold without extra charge", "line-practice"
    )
    hidden_joints: Literal["as the line sees", "never", "any"] = default(
        "as the line sees",
        "are joints allowed that the line's inspection can't judge",
        "a joint nobody can judge is only taken on purpose",
    )
    terminals: Literal["either", "exposed", "hidden"] = default(
        "either", "should terminals be open to a probe, or hidden from one", "most products don't mind"
    )
    probe_access: bool = default(
        False, "must every net be reached by a test probe", "functional test is the usual minimum"
    )
    supply: Annotated[Literal["likely", "seen", "any"], BeforeValidator(_supply_word)] = default(
        "likely",
        "packages that may be chosen: seen or likely for the function and family, only seen ones, or any",
        "a package that nobody may sell the part in is no option; what the study itself offers always is one",
    )
    makers: int | None = default(
        None, "makers that must offer an option, where the study or its offers count them", "no limit"
    )
    grade: Literal["", "extended", "automotive", "military"] = default(
        "", "grade that an offer must have", "none unless stated"
    )
    lifecycle: Literal["active", "any"] = default(
        "active", "offers that may be bought: active ones, or also those near their end", "a design outlives a last buy"
    )
    most_reel: int | None = default(None, "largest reel or pack that may be bought, pieces", "no limit")
    in_stock: bool = default(False, "must an offer have all pieces in stock", "stock comes and goes")
    drop_in: bool = default(
        False,
        "only packages that fit the present lands, or whose terminals come as the present part's do",
        "a board that is laid out anew is the usual case",
    )
    drilled: bool = default(True, "may parts be drilled", "the line decides")
    weights: dict[str, float] = default({}, "weight of each criterion", "see the criteria's own reasons")
    objective: Literal["cost", "value"] | list[str] = default(
        "cost",
        'what the whole board is chosen for: "cost", "value" (by the weights), or a list such as ["cost", "area"]',
        "in volume the cost per good board decides",
    )
    choose_for: Literal["expected", "regret"] = default(
        "expected",
        '"expected" cost, or "regret": the choice whose largest regret over the [[scenario]] tables is smallest',
        "what is uncertain is drawn within bands; scenarios are for what has no probability",
    )
    regroup_within: Length | None = default(
        None,
        "parts of one function whose places lie within this of each other may share packages",
        "only parts that [[regroup]] names; another grouping is another schematic",
    )
    worth_deciding: float | None = default(
        None,
        "money per board that knowing everything must save before a choice counts as not decided",
        "what finding out costs (rate finding_out) over the run",
    )
    sure: float | None = default(
        None,
        "confidence at which limits must be shown to be held, such as 0.95",
        "unless stated, only a limit that is surely broken takes an option out; one not shown is named as a condition",
    )
    limits: dict[str, float | str] = default(
        {}, "limit of any figure, held by each option, by the figure's key", "no limit unless stated"
    )
    board_limits: dict[str, float | str] = default(
        {},
        "limit of a sum over the board: area (mm2 of a side, with packing), hidden-joints, risk, or any figure",
        "no limit unless stated",
    )
    packing: float = Field(
        default=0.3,
        ge=0,
        description="area lost between courtyards, as a share of them, when a board area is given",
        json_schema_extra={"reason": "courtyards never tile a board; a rule of ours", "source": "landwise-rule"},
    )
    most_outlines: int | None = default(None, "how many different outlines the board may carry", "no limit")
    least_sources: int | None = default(None, "makers an option must have, where the study counts them", "no limit")
    most_lead_weeks: float | None = default(None, "longest lead time, where the study gives it, weeks", "no limit")
    most_price_spread: float | None = default(
        None, "how far an offer's price may move at most, as a share of it", "no limit"
    )
    coplanarity: bool = default(
        True,
        "must the foil be at least three quarters as thick as the leads' coplanarity limit",
        "paste much lower than the highest lead leaves it open (makers ask for the whole limit; leads lie inside it)",
        "jedec-coplanarity-memory",
    )


class CostsTable(Table):
    """Money, in the study's own unit."""

    unit: str = default("units", "name of the money unit", "rates are ratios until you say what they are in")
    run: int = Field(
        default=1000,
        gt=0,
        description="boards to be built",
        json_schema_extra={
            "reason": "a small series; charges per run are spread over it",
            "source": "landwise-rule",
        },
    )
    rates: dict[str, float] = default(
        {}, "your own rates; see `landwise defaults`", "the shipped rates are assumptions"
    )
    rate_factor: float = Field(
        default=1.0,
        gt=0,
        description="one unit of the shipped rates' money, about a US dollar, in this study's unit",
        json_schema_extra={
            "reason": "the shipped rates and the assumed prices are recalled in about dollars; euros, pounds and francs"
            " lie within their bands",
            "source": "cost-memory",
        },
    )
    price_spread: float = Field(
        default=0.1,
        ge=0,
        lt=1,
        description="how far a part price may move between asking and ordering, as a share of it",
        json_schema_extra={
            "reason": "quotes are rarely held for longer; an assumption that only the robustness uses",
            "source": "landwise-rule",
        },
    )
