"""The board's page of shaking, heat, signals and dirt: what drives each part, and maps of the board."""

from __future__ import annotations

from landwise.errors import LandwiseError, ValidityError
from landwise.evidence.figures import Figure
from landwise.judging.boardcase import FILM, Shakes, heat_board_of, plate_of, shakes_of
from landwise.judging.results import OptionResult, PartResult, StudyResult
from landwise.judging.shaken import allowed_of
from landwise.judging.warm import power_of, source_of
from landwise.memory import known
from landwise.quantities import significant, some_of
from landwise.service.board_heat import Source
from landwise.service.contamination import CAUTION, HAZARD_V
from landwise.service.heatfield import background
from landwise.service.shaking import SHOCK_FACTOR, share_below
from landwise.sheets.boardmaps import Bound, Field, Placed, board_map
from landwise.sheets.look import LIGHT, VERDICT_LOOKS, Theme

KEYS = ("vibration", "shock", "junction-temperature", "bounce", "decoupling", "migration-field", "coat-reach")
HEADS = ("vibration", "shock", "junction, °C", "bounce, V", "capacitor, mm", "field, V/mm", "coat gap, µm")
LIMITS = (
    "Bending is a share of what the part stands; bounce compares packages and predicts no volts; the field is a class"
    " of exposure and no chance of failure; resistances of one package differ by two times between data sheets."
)


def service_page(result: StudyResult) -> dict[str, object] | None:
    """The section's data; None where no part is chosen."""
    chosen = [(part, part.chosen) for part in result.parts if part.chosen]
    if not chosen:
        return None
    keys = [key for key in KEYS if any(key in option.figures for _, option in chosen)]
    return {
        "says": _says(result),
        "heads": [HEADS[KEYS.index(key)] for key in keys],
        "rows": [
            [part.name, option.name, *(_cell(option.figures.get(key)) for key in keys)] for part, option in chosen
        ],
        "limits": LIMITS,
        "hazard": f"At {result.content.use.voltage:g} V: {CAUTION}." if result.content.use.voltage > HAZARD_V else "",
        "maps": [text for text in (_vibration_note(result), _heat_note(result)) if text],
    }


def _cell(figure: Figure | None) -> dict[str, str]:
    look = VERDICT_LOOKS[figure.verdict if figure else "not known"]
    if figure is None or figure.value is None:
        return {"text": "–", "word": look.word, "sign": look.sign}
    text = significant(figure.value, 2)
    if figure.low is not None and figure.high is not None and figure.low != figure.high:
        text += f" ({significant(figure.low, 2)}…{significant(figure.high, 2)})"
    return {"text": text, "word": look.word, "sign": look.sign}


def _shakes(result: StudyResult) -> Shakes | None:
    content = result.content
    if content.board.length is None or content.board.width is None:
        return None
    if not (content.use.random or content.use.sine or content.use.shock or content.use.shock_pulse):
        return None
    try:
        return shakes_of(content.board, content.use)
    except ValidityError:
        return None


def _says(result: StudyResult) -> str:
    shakes = _shakes(result)
    bits = []
    if shakes is not None:
        first = [float(each.modes.frequency_hz[0]) for each in (shakes.soft, shakes.taken, shakes.stiff, shakes.held)]
        bits.append(
            f"The board swings first at {first[1]:.0f} ({min(first):.0f}…{max(first):.0f}) Hz (over what is not known"
            " of laminate, parts and screws)."
        )
    worst = _worst(result)
    bits.append(
        "What presses hardest: " + "; ".join(worst) + "."
        if worst
        else "Of what could be computed, nothing fails or is marginal on the chosen packages."
    )
    return " ".join(bits)


def _worst(result: StudyResult) -> list[str]:
    """Failing, then marginal figures of the chosen options, gathered by figure."""
    found = []
    for verdict in ("fails", "marginal"):
        for key in KEYS:
            names = [
                part.name
                for part in result.parts
                if part.chosen and key in part.chosen.figures and part.chosen.figures[key].verdict == verdict
            ]
            if names:
                title = next(
                    part.chosen.figures[key].title
                    for part in result.parts
                    if part.chosen and key in part.chosen.figures
                )
                shown = some_of(names, 5)
                found.append(
                    f"{title} {verdict} for {shown}" if verdict == "fails" else f"{title} is marginal for {shown}"
                )
    return found


# --- maps ---


def _tenderest(result: StudyResult) -> tuple[PartResult, OptionResult, float] | None:
    """The chosen part that stands the least bending."""
    if result.content.board.length is None or result.content.board.width is None:
        return None
    found = [
        (part, part.chosen, allowed_of(part.chosen.geometry.outline, result.content.board))
        for part in result.parts
        if part.chosen
    ]
    return min(found, key=lambda one: one[2], default=None)


def _placed(result: StudyResult) -> list[Placed]:
    found = []
    for part in result.parts:
        if part.chosen is None:
            continue
        outline = part.chosen.geometry.outline
        wide = max(r.nom for r in (outline.body_width_mm, outline.span_mm, outline.row_spacing_mm) if r is not None)
        found += [Placed(ref, x, y, wide, outline.body_length_mm.nom) for ref, (x, y) in part.part.at.items()]
    return found


def vibration_svg(result: StudyResult, theme: Theme = LIGHT) -> str | None:
    """Where on the board the tenderest chosen part should not sit; None where nothing shakes."""
    shakes, part = _shakes(result), _tenderest(result)
    if shakes is None or part is None:
        return None
    board = result.content.board
    lasting = bool(result.content.use.random or result.content.use.sine)
    field = shakes.taken.usage_mm if lasting else shakes.taken.shock_mm
    allowed = part[2] if lasting else part[2] * SHOCK_FACTOR
    name = f"{part[0].name} in {part[1].name}"
    what = "vibration" if lasting else "shock"
    return board_map(
        Field(
            shakes.taken.modes.x_mm,
            shakes.taken.modes.y_mm,
            field / allowed,
            "",
            f"{what}: share of its limit that {name} would use up there",
        ),
        (board.length or 0.0, board.width or 0.0),
        title=f"{what} map",
        prefix="shake",
        limit=Bound(1.0, f"here {name}, the tenderest part, would use up its limit"),
        screws=plate_of(board).supports,
        parts=_placed(result),
        theme=theme,
    )


def _vibration_note(result: StudyResult) -> str:
    shakes, part = _shakes(result), _tenderest(result)
    if shakes is None or part is None:
        return "No map of shaking: the study states neither vibration nor shock, or no size of the board."
    share = share_below(shakes.taken.usage_mm, shakes.taken.modes, part[2])
    return (
        f"{part[0].name} in {part[1].name} is the tenderest part; in vibration it may sit on {share:.0%} of the board."
    )


def _sources(result: StudyResult) -> list[Source]:
    found = []
    for part in result.parts:
        if part.chosen is None:
            continue
        power, _, _ = power_of(part.part, result.content)
        if power is None:
            continue
        for place in part.part.at.values():
            source = source_of(part.chosen.geometry, part.part, result.content.board, power[1], place)
            if source is not None:
                found.append(source)
    return found


def _unplaced_w(result: StudyResult) -> float:
    """Heat of parts that the study gives no place: it warms the board evenly. [W]"""
    found = 0.0
    for part in result.parts:
        power, _, _ = power_of(part.part, result.content)
        if power is not None and part.part.fitted:
            found += power[1] * (part.count - len(part.part.at))
    return found


def heat_svg(result: StudyResult, theme: Theme = LIGHT) -> str | None:
    """Temperature of the board, chosen parts where the study places them; None without size, places or powers."""
    board, use = result.content.board, result.content.use
    if board.length is None or board.width is None:
        return None
    sources = _sources(result)
    if not sources:
        return None
    spread = board.other_power + _unplaced_w(result)
    plate = heat_board_of(board, FILM[1])
    field = known(lambda: background(plate, sources, spread), "heat field", plate, sources, spread)
    return board_map(
        Field(
            field.x_mm,
            field.y_mm,
            field.top_k + use.ambient,
            "°C",
            f"top face at {use.ambient:g} °C air: {len(sources)} parts in place, {spread:.2g} W of all else evenly",
        ),
        (board.length, board.width),
        title="temperature map",
        prefix="warm",
        screws=plate_of(board).supports,
        parts=_placed(result),
        theme=theme,
    )


def _heat_note(result: StudyResult) -> str:
    try:
        sources = _sources(result)
    except LandwiseError:
        sources = []
    if result.content.board.length is None or not sources:
        return "No map of heat: it needs the board's size, and places (at) and power or frequency of parts."
    whole = sum(source.power_w for source in sources)
    return (
        f"{len(sources)} parts put {whole * 1e3:.0f} mW into the board where the study places them; films of"
        f" {FILM[1]:g} W/m²K, copper as even sheets."
    )
