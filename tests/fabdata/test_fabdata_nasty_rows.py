"""Rows of bills of the nasty kind, read all at once: each as an engineer reads it, and each guess marked as one."""

from __future__ import annotations

import csv
from pathlib import Path

from landwise.fabdata.bills import read_bill
from landwise.fabdata.packageoutlines import outline_for
from landwise.fabdata.packages import read_package
from landwise.fabdata.parts import recognise

TABLE = (Path(__file__).parent / "nasty_rows.csv").read_text(encoding="utf-8").splitlines()
ROWS = list(csv.DictReader(line for line in TABLE if not line.startswith("#")))


def read(tmp_path):
    path = tmp_path / "bill.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["Reference", "Part Number", "Description", "Footprint"])
        for at, row in enumerate(ROWS, start=1):
            writer.writerow([f"U{at}", row["part"], row["description"], row["footprint"]])
    return recognise(read_bill(path))


def test_every_row_is_read_as_an_engineer_reads_it(tmp_path):
    found = read(tmp_path)
    parts = {reference: part for part in found.parts for reference in part.references}
    wrong = []
    for at, row in enumerate(ROWS, start=1):
        part = parts[f"U{at}"]
        number = (part.number or "words") if part.kind == "logic" else ""
        terminals = str(part.terminals or "") if number else ""
        guessed = " ".join(sorted({guess.field for guess in part.guesses})) if number else ""
        said = (number, terminals, part.outline if number else "", guessed)
        expected = (row["number"], row["terminals"], row["outline"], row["guessed"])
        if said != expected:
            wrong.append((row["part"], row["footprint"], said, expected))
    assert len(ROWS) > 200
    assert wrong == []


def test_an_outline_that_no_text_spells_is_marked_as_a_guess():
    """Letters of order codes are no text of a package: without a text that says so, the outline is a guess."""
    silent = [
        row["part"]
        for row in ROWS
        if row["outline"]
        and "package" not in row["guessed"]
        and not any(
            (reading := read_package(text)) and outline_for(reading, int(row["terminals"]))[0]
            for text in (row["part"], row["description"], row["footprint"])
            if text
        )
    ]
    assert silent == []


def test_logic_whose_terminals_nobody_tells_is_unread_with_its_reason(tmp_path):
    unread = {entry.text: entry.reason for entry in read(tmp_path).unread}
    assert "terminals" in unread["ADG1419BRMZ"]


def test_counts_before_a_shrink_body_keep_its_first_letter():
    """`16-SSOP` is no `16s SOP`: the body's own letter is no plural of the count."""
    for text, outline in (
        ("16-SSOP", "SSOP-16"),
        ('16-SSOP (0.154", 3.90mm Width)', "QSOP-16"),
        ('20-SSOP (0.209", 5.30mm Width)', "SSOP-20"),
        ("20 leads SSOP", "SSOP-20"),
        ('48-TFSOP (0.240", 6.10mm Width)', "TSSOP-48"),
        ('56-BSSOP (0.295", 7.50mm Width)', "SSOP-56"),
    ):
        found, _ = outline_for(read_package(text))
        assert found is not None
        assert found.name == outline, text


def test_drilled_rows_are_as_far_apart_as_the_text_says():
    for text, outline in (
        ('24-DIP (0.600", 15.24mm)', "DIP-24W"),
        ("DIP-24_W15.24mm_Socket", "DIP-24W"),
        ('24-DIP (0.300", 7.62mm)', "DIP-24"),
        ("DIP-24", "DIP-24"),
        ('28-DIP (0.600", 15.24mm)', "DIP-28"),
        ("CERDIP-14", "CDIP-14"),
    ):
        found, _ = outline_for(read_package(text))
        assert found is not None
        assert found.name == outline, text
    assert outline_for(read_package('28-DIP (0.300", 7.62mm)')) == (None, "")
    plastic, assumed = outline_for(read_package("CDIP-24"))
    assert plastic is not None
    assert plastic.name == "DIP-24"
    assert "ceramic" in assumed
