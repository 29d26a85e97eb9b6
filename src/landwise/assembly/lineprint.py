"""What a line that measured its transfer releases: band and verdict of an opening, in place of the shipped band's."""

from __future__ import annotations

from dataclasses import dataclass, replace

from landwise.assembly.depositspread import Z90, DepositSpread
from landwise.assembly.partmodel import stood
from landwise.assembly.scatter import Scatter
from landwise.evidence.figures import Verdict, worst
from landwise.printing.model import Deposit, Powder, Print, Technology
from landwise.printing.transfer import PASS_LEVEL, least_area_ratio, transfer

Band = tuple[float, float, float]


@dataclass(frozen=True)
class LineRelease:
    """A line's own release near the area ratios it measured.

    Parameters
    ----------
    measured : DepositSpread
        Holds where its mean transfer stands.
    score, width : float
        The line's one place in the transfer band, and how well it is known: what a measured place falls back to.

    Examples
    --------
    >>> from landwise.assembly.depositspread import Measured, deposit_spread
    >>> own = deposit_spread([Measured(0.55, 0.1, 0.12, 0.14, mean=(0.82, 0.85, 0.88))])
    >>> line = LineRelease(own, 0.0, 1.0)
    >>> line(0.55, "laser-cut", "T4"), line(0.80, "laser-cut", "T4")
    ('holds', None)
    """

    measured: DepositSpread
    score: float
    width: float

    def band(self, area_ratio: float, technology: Technology, powder: Powder) -> Band | None:
        """Mean transfer with its 90 % interval; None where the line measured none near. [-]"""
        if area_ratio < least_area_ratio() or not self.measured.knows_transfer(area_ratio):
            return None
        prior = transfer(area_ratio, technology, powder)
        low, value, high = (
            prior.mean * float(stood(prior.mean, prior.low, prior.high, place))
            for place in (
                float(self.measured.place(area_ratio, self.score + z * self.width, z)) for z in (-Z90, 0.0, Z90)
            )
        )
        return low, value, high

    def __call__(self, area_ratio: float, technology: Technology, powder: Powder) -> Verdict | None:
        """Its verdict by the same rule as the shipped band's: the whole interval passes, or all of it stays below."""
        band = self.band(area_ratio, technology, powder)
        if band is None:
            return None
        low, _, high = band
        return "holds" if low >= PASS_LEVEL - 1e-9 else "fails" if high < PASS_LEVEL - 1e-9 else "marginal"


def line_release(scatter: Scatter) -> LineRelease | None:
    """What a line measured of its release; None where it measured no mean transfer."""
    if scatter.spread is None or not scatter.spread.places:
        return None
    return LineRelease(scatter.spread, scatter.transfer_score, scatter.transfer_spread)


def as_released(printed: Print, line: LineRelease | None) -> Print:
    """A print with the verdicts of the line's own release, where it measured; sizes and volumes as they were.

    Leads whose paste has to fill a hole keep the shipped band's: how much fills it is another question.
    """
    if line is None or not printed.deposits:
        return printed
    deposits = tuple(_judged(one, printed, line) for one in printed.deposits)
    if deposits == printed.deposits and not any(_band(one, printed, line) for one in deposits):
        return printed
    verdict = worst([one.verdict for one in deposits] + [one.powder_verdict for one in deposits])
    return replace(printed, deposits=deposits, verdict=verdict, why=_why(printed, line))


def weakest(printed: Print, line: LineRelease | None) -> Deposit:
    """The deposit of which least leaves its opening: by the line's own mean where it measured."""

    def level(one: Deposit) -> float:
        band = None if line is None else _band(one, printed, line)
        return one.transfer.mean if band is None else band[1]

    return min(printed.deposits, key=lambda one: (level(one), one.area_ratio))


def _band(one: Deposit, printed: Print, line: LineRelease) -> Band | None:
    if one.fill is not None:
        return None
    return line.band(one.area_ratio, printed.foil.technology, printed.powder)


def _judged(one: Deposit, printed: Print, line: LineRelease) -> Deposit:
    if one.fill is not None:
        return one
    verdict = line(one.area_ratio, printed.foil.technology, printed.powder)
    return one if verdict is None else replace(one, verdict=verdict)


def _why(printed: Print, line: LineRelease) -> str:
    one = weakest(printed, line)
    band = _band(one, printed, line)
    at = f"area ratio {one.area_ratio:.2f} on {printed.foil.thickness_um:g} µm"
    if band is None:
        return (
            f"terminal {one.terminal} releases least, {at}: {one.transfer.usual_low:.0%} to"
            f" {one.transfer.usual_high:.0%} of the paste transfers; your line measured none near"
        )
    low, value, high = band
    return (
        f"terminal {one.terminal} releases least, {at}: your line transfers {value:.0%} there ({low:.0%} to {high:.0%})"
    )
