"""What a trial is built from: the coupon's films, a build sheet, and the forms that are read back."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

from landwise.board.chosen import BoardChoice
from landwise.board.trial import SIZES, LifeTest, Proposal
from landwise.fabdata.coupon import Coupon, Row, coupon
from landwise.quantities import significant
from landwise.results.inputwords import input_says

PARTS_A_ROW = 10
MOST_PARTS = 60  # of one package on a coupon


def trial_files(proposals: Sequence[Proposal], choice: BoardChoice) -> Mapping[str, bytes]:
    """Every file of a trial by its name: nothing where no trial is worth building."""
    coupons = {one.part: coupon(_rows(one)) for one in proposals}
    files: dict[str, bytes] = {"trial.md": sheet_text(proposals, coupons, choice).encode()}
    for one in proposals:
        drawn = coupons[one.part]
        for name, film in drawn.films.items():
            files[f"{one.part}/{name}.gbr"] = film
        files[f"{one.part}/placement.csv"] = drawn.placement_csv().encode()
        files[f"{one.part}/counts.csv"] = counts_form(one).encode()
        if one.lives:
            files[f"{one.part}/tests.toml"] = cycling_form(one.lives).encode()
    return files


def _rows(one: Proposal) -> list[Row]:
    rows = []
    for name in one.rivals:
        under = one.geometries[name]
        prints = {f"{geometry.printed.foil.thickness_um:g}um": geometry.printed for geometry in under}
        rows.append(Row(name, under[0].pattern, prints, PARTS_A_ROW))
    return rows


def counts_form(one: Proposal) -> str:
    """A form to be filled in: what `landwise calibrate --defects` reads. Empty numbers are refused there."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["package", "kind", "defects", "joints"])
    for name in one.rivals:
        for kind in ("bridge", "open"):
            writer.writerow([name, kind, "", ""])
    return out.getvalue()


def cycling_form(lives: Sequence[LifeTest]) -> str:
    """Tables to be filled in and put into the study: `[[use.tests]]`."""
    parts = ["# Put these into the study once the parts have cycled; fill in what is left open.\n"]
    for one in lives:
        parts.append(
            "[[use.tests]]\n"
            f'package = "{one.package}"\n'
            f"cycles = 0        # reached; the wanted life is worth {one.cycles:.0f}\n"
            "samples = 0\nfailures = 0\n"
            'low = "0 degC"\nhigh = "100 degC"\ndwell = "10 min"\n'
        )
    return "\n".join(parts)


def sheet_text(proposals: Sequence[Proposal], coupons: Mapping[str, Coupon], choice: BoardChoice) -> str:
    """The build sheet: what to build, how many, when to stop, and how to tell the tool."""
    content = choice.model.bench.content
    unit, run = content.costs.unit, content.costs.run
    lines = [
        f"# Trial for {content.board.name}",
        "",
        "Supports a decision; does not replace qualification. Values are expected ones over the run of"
        f" {run} boards, in {unit}.",
    ]
    for one in proposals:
        lines += ["", f"## {one.part}", "", *_verdict(one, unit)]
        if one.asks:
            lines += ["", f"No trial shows these; find them out first: {asks_of(one)}."]
        lines += ["", *_worth_table(one), "", *_build(one, coupons[one.part])]
        if one.chosen is not None:
            lines += ["", *_stopping(one)]
        if one.lives:
            lines += ["", *_lives(one.lives)]
        lines += ["", *_after(one)]
    return "\n".join(lines) + "\n"


def asks_of(one: Proposal) -> str:
    """Inputs that no trial shows, in words."""
    return ", ".join(input_says(name, one.part) for name in one.asks)


def _verdict(one: Proposal, unit: str) -> list[str]:
    names = ", ".join(one.rivals)
    if one.chosen is None:
        return [
            f"**Not worth building.** No size of trial of {names} saves more than it costs;"
            f" knowing everything would save {significant(one.everything)} {unit}."
        ]
    price = one.prices[SIZES.index(one.chosen.size)]
    return [
        f"**Build {one.chosen.size} of each of {names}.** It costs about {significant(price)} {unit}, is worth"
        f" {significant(one.chosen.gain)} ± {significant(one.chosen.error)} {unit} and changes the choice in"
        f" {one.chosen.changes:.0%} of lines; knowing everything would save {significant(one.everything)} {unit}."
    ]


def _worth_table(one: Proposal) -> list[str]:
    rows = [
        f"| {trial.size} | {significant(price)} | {significant(max(trial.gain, 0.0))} | {trial.changes:.0%} |"
        for trial, price in zip(one.trials, one.prices, strict=True)
    ]
    return ["| parts of each | costs | is worth | changes the choice |", "|---|---|---|---|", *rows]


def _build(one: Proposal, drawn: Coupon) -> list[str]:
    foils = ", ".join(
        dict.fromkeys(f"{g.printed.foil.thickness_um:g} µm" for under in one.geometries.values() for g in under)
    )
    width, height = drawn.size_mm
    joints = sum(chain.joints for chain in drawn.chains)
    return [
        "### Build",
        "",
        f"- Coupon of {width:g} × {height:.1f} mm for the panel's waste border or as a board of its own: `copper.gbr`,"
        " `mask.gbr`, `outline.gbr`, `placement.csv`.",
        f"- Paste films, openings as designed: {foils}. Build half of the parts with each.",
        f"- {len(drawn.spots)} parts on a coupon, {len(drawn.chains)} chains through {joints} joints, a probe land at"
        " each end. The board joins every second pair of neighbours along both long sides; the parts must join the"
        " others: order them as daisy-chain parts, or probe each terminal's protection diode instead. Joints on the"
        " short sides of quads and inside grids are not in a chain: count them by X-ray.",
        "- Same paste, placement and oven as the product; parts from the lots that will be bought.",
    ]


def _stopping(one: Proposal) -> list[str]:
    assert one.chosen is not None
    quarter = -(-one.chosen.size // 4)
    return [
        "### Count, and stop",
        "",
        f"Build in lots of {quarter}. After each, fill in `counts.csv` and run the two commands below; stop as soon as"
        " the study no longer says *not decided* for this part.",
        "",
        _rule(one),
    ]


def _rule(one: Proposal) -> str:
    assert one.chosen is not None
    first = one.rivals[0]
    if not one.then:
        return f"With all {one.chosen.size} built {first} is taken whatever it shows, the others as expected."
    if one.stays < 0:
        return (
            f"With all {one.chosen.size} built {one.then} is taken even where {first} shows none, others as expected."
        )
    return (
        f"With all {one.chosen.size} of each built, {first} is taken while it shows {one.stays} defects or fewer; with"
        f" more, {one.then} (the others as expected)."
    )


def _lives(lives: Sequence[LifeTest]) -> list[str]:
    rows = []
    for one in lives:
        sizes = ", ".join(f"{count} parts to {one.cycles * times:.0f}" for times, count in one.sizes)
        rows.append(f"- {one.package}: {sizes} cycles without a failure.")
    share, sure = lives[0].share, lives[0].confidence
    return [
        "### Lives that are not shown",
        "",
        f"Cycling in the usual chamber, 0 to 100 °C, chains watched; each line shows a life with {share:.2%} of parts"
        f" failed, at {sure:.0%} confidence (success run, Weibull slope 3 for leads and 2 otherwise, from memory):",
        "",
        *rows,
        "",
        "Write the outcome into `tests.toml` and put it into the study.",
    ]


def _after(one: Proposal) -> list[str]:
    return [
        "### Afterwards",
        "",
        "```",
        f"landwise calibrate --defects {one.part}/counts.csv --study board.toml -o line.toml   # says what changes",
        "landwise study board.toml --line line.toml -o out/",
        "```",
    ]
