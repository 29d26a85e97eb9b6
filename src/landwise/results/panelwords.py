"""What a panel makes of saved area, in one or two sentences."""

from __future__ import annotations

from landwise.quantities import significant
from landwise.results.choicejson import NextSizeJson, PanelJson

LEAST_MM2 = 0.05  # below it nothing was saved


def panel_says(told: PanelJson) -> str:
    """Whether saved area is money or room on this panel, and where the next step lies.

    >>> told = PanelJson(fixed=False, images=12, today_images=10, length_mm=40, width_mm=28, today_length_mm=40,
    ...                  today_width_mm=30, saved_mm2=80, money=0.40, today_money=0.48, unit="EUR", following=None)
    >>> panel_says(told)
    '80 mm² saved: the board shrinks from 40 × 30 to 40 × 28 mm, 12 boards a panel instead of 10: 0.08 EUR a board less'
    """
    unit = told.unit
    kept = f"{told.images} boards a panel, {significant(told.money)} {unit} a board for it"
    area = f"{significant(abs(told.saved_mm2))} mm² {'saved' if told.saved_mm2 >= 0 else 'more'}"
    still = abs(told.saved_mm2) < LEAST_MM2
    if told.fixed:
        what = "room, not money" if told.saved_mm2 > 0 else "from its room"
        first = kept if still else f"{area} on a fixed outline: {what}; {kept}"
    elif told.images == told.today_images:
        first = kept if still else f"{area} and still {kept}: {'room, not money' if told.saved_mm2 > 0 else 'no money'}"
    else:
        less = told.today_money - told.money
        turn = "shrinks" if told.saved_mm2 > 0 else "grows"
        first = (
            f"{area}: the board {turn} from {_size(told.today_length_mm, told.today_width_mm)} to"
            f" {_size(told.length_mm, told.width_mm)} mm, {told.images} boards a panel instead of"
            f" {told.today_images}: {significant(abs(less))} {unit} a board {'less' if less >= 0 else 'more'}"
        )
    if told.following is not None:
        first += f"; {_following(told.following, told.fixed, unit)}"
    return first


def _following(one: NextSizeJson, fixed: bool, unit: str) -> str:
    when = "if the outline could be" if fixed else "at"
    return (
        f"{when} {_size(one.length_mm, one.width_mm)} mm ({significant(one.more_mm2)} mm² less) {one.images} a panel,"
        f" {significant(one.saves)} {unit} a board less"
    )


def _size(length_mm: float, width_mm: float) -> str:
    return f"{length_mm:.4g} × {width_mm:.4g}"
