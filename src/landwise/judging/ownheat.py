"""The cycles that a part makes by its own heat each time it is switched on, in the package that is judged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from landwise.evidence.trails import Step, earlier, stated, worked
from landwise.judging.boardcase import FILM
from landwise.judging.heatbench import heat_at
from landwise.judging.leaves import of_outline
from landwise.judging.lifetime import environment_of
from landwise.judging.warm import BOARD_SOURCES, board_theta, power_of, sheet_of, sheet_theta, sheets_band
from landwise.outlines import Outline
from landwise.service.environments import SOURCE as TABLE_SOURCE
from landwise.service.environments import Environment
from landwise.service.heatfield import over_board, share_over_board
from landwise.service.mission import MINER_SOURCE, OwnHeat, with_own_heat
from landwise.service.resistances import Sheet, spread_of

if TYPE_CHECKING:
    from landwise.judging.bench import Bench
    from landwise.study.file import PartTable, StudyFile

Heard = OwnHeat | str  # or why it can't be told
MOST_FACTOR = 5.0  # beyond it nothing is known of a rise: a rule of ours


def switched(part: PartTable, study: StudyFile) -> float:
    """How often a year a part's heat comes and goes; 0 where nobody states it."""
    return (part.switched if part.switched is not None else study.use.switched) or 0.0


def own_heat(study: StudyFile, part: str, outline: Outline, own: tuple[Outline, ...]) -> Heard:
    """What a part in a package warms when it is switched on, or why that isn't known.

    Parameters
    ----------
    study : StudyFile
    part : str
        One of its references.
    outline : Outline
        The package that is judged.
    own : tuple of Outline
        The study's own outlines.

    Notes
    -----
    The board under the part rises by the part's own heat, and where the whole product is switched by that of all
    others too. The part stands over it by its power times the junction's resistance to the board, as the handbook of
    failure rates takes it: the die is the hottest of it, so that the body's mean rise is less. Power, sheets and
    board make the factor within which it is known.

    Examples
    --------
    >>> from landwise.outlines import find
    >>> from landwise.study.file import study_from
    >>> text = {"part": [{"refs": ["U1"], "terminals": 16, "power": "0.3 W"}], "use": {"switched": 2000}}
    >>> found = own_heat(study_from(text).content, "U1", find("TSSOP-16"), ())
    >>> 25 < found.over_k < 40, found.per_year, found.factor > 1.4
    (True, 2000.0, True)
    """
    table = next(one for one in study.part if part in one.refs)
    power = power_of(table, study)[0]
    if power is None:
        return "its own heat isn't known: state its power, or 0 W if it gives none"
    if power[1] <= 0:
        return OwnHeat(0.0, 0.0, switched(table, study))
    sheet = sheet_of(table, own)
    if spread_of(outline.name) is None:
        return "its own heat isn't known: no sheet at hand prints a thermal resistance of this package"
    total, over = _resistances(outline, table, study, sheet)
    low, value, high = (each * watts for each, watts in zip(total, power, strict=True))
    others = 0.0
    if table.switched is None:
        others = heat_at(study, own, table, 1, lambda one: power_of(one, study)[0]) or 0.0
    factor = min(max(high / value, value / low if low > 0 else MOST_FACTOR), MOST_FACTOR)
    rise = min(over, total[1]) * power[1]
    return OwnHeat(value - rise + others, rise, switched(table, study), factor)


def _resistances(
    outline: Outline, part: PartTable, study: StudyFile, sheet: Sheet | None
) -> tuple[tuple[float, float, float], float]:
    """Junction to air, low, taken and high, and junction over board as taken. [K/W]"""
    row = sheet.rows.get(outline.name) if sheet else None
    if row is None or sheet is None:
        band = sheets_band(outline.name)
        return band, share_over_board().value * band[1]
    board = study.board
    sized = board.length is not None and board.width is not None
    total = board_theta(outline, part, board, sheet) if sized else sheet_theta(outline.name, sheet)
    return total, over_board(row.ja, row.to_board).value


def place_with(study: StudyFile, heard: Heard | None) -> Environment:
    """Where a part's joints live: the study's place, with the cycles of the part's own heat where it has some."""
    place = environment_of(study.use)
    return with_own_heat(place, heard, study.use.ambient) if isinstance(heard, OwnHeat) else place


def place_step(outline: Outline, part: PartTable, bench: Bench) -> Step:
    """The station of an option's place; what it was not told is in its inputs."""
    given = {"study": earlier(bench.study_step), "heard": stated(None, "use.switched")}
    words: dict[str, str] = {}
    if switched(part, bench.content) > 0:
        heat = worked(
            "what it warms by its own heat when it is switched on: the board under it, and itself over that",
            own_heat,
            {
                "study": earlier(bench.study_step),
                "part": stated(part.refs[0], "[[part]] refs"),
                "outline": of_outline(outline),
                "own": stated(tuple(bench.own), "outlines"),
            },
            inputs={"film": f"{FILM[1]:g} W/m²K"},
            valid="as hot as it gets; the die's rise stands for the part's",
            sources=("handbook-own-rise-memory", *BOARD_SOURCES),
        )
        given["heard"] = earlier(heat)
        words = {"its own heat": heat_says(heat.result)}
    return worked("where it lives", place_with, given, inputs=words, sources=(TABLE_SOURCE, MINER_SOURCE), key="place")


def heat_says(heard: Heard) -> str:
    """Own heat in words."""
    if isinstance(heard, str):
        return heard
    return (
        f"board {heard.board_k:.3g} K, part {heard.over_k:.3g} K over it, {heard.per_year:g} times a year,"
        f" within a factor of {heard.factor:.2g}"
    )
