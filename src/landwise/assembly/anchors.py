"""Counted defects of one published line, by group of parts: what the default levels are anchored to.

PHM Europe data challenge 2022 (Giordano, Trevisan: "PHME Data Challenge"): paste and optical inspection of one
production line, July to September 2019; 22,040 boards. The counts are facts taken from the open files; no row of them
is part of this package. Packages are not named in the data: the outline beside each group is our reading of its
terminals and pitch.
"""

from __future__ import annotations

from dataclasses import dataclass

BOARDS = 22_040
SOURCE = "phm-2022-counts"
# Of the parts that the operator called bad and the microscope then looked at: 408 scrap, 180 good after all.
CONFIRMED = 408 / (408 + 180)


@dataclass(frozen=True)
class Anchor:
    """One group of parts.

    Parameters
    ----------
    name, says : str
    outline : str
        Of the catalogue, taken for its package; empty where none fits, so that no geometry is modelled.
    per_board : int
        Parts on one board.
    joints, gaps : float
        Of one part.
    bridges, rest : int
        Parts with a bridge, and other parts that the operator called bad.
    """

    name: str
    says: str
    outline: str
    per_board: int
    joints: float
    gaps: float
    bridges: int
    rest: int

    @property
    def parts(self) -> int:
        """Parts inspected."""
        return BOARDS * self.per_board


ANCHORS: tuple[Anchor, ...] = (
    Anchor("48 leads", "one 48-lead part, taken as 0.5 mm pitch", "QFP-48", 1, 48, 44, 4, 5),
    Anchor("six pins", "seven small six-pin parts of about 0.65 mm pitch", "SC-70-6", 7, 6, 4, 1, 28),
    Anchor("5 to 8 pins", "four other small parts, taken as 0.95 mm pitch", "SOT-23-5", 4, 6.5, 4.5, 0, 4),
    Anchor("chip arrays", "three eight-pin chip arrays, no logic package", "", 3, 8, 6, 5, 11),
)
