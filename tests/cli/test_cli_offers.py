"""`landwise offers`: a list becomes a file of offers that a study reads."""

from __future__ import annotations

import tomllib

import pytest
from click.testing import CliRunner

from landwise.cli import app, main
from landwise.judging.study import run_study
from landwise.study.file import read_study

LIST = """Part Number,Free,Manufacturer,Status,1,1000
SN74HC00PWR,9000,a,Active,0.30,0.10
SN74HC00DR,200,b,Obsolete,0.20,0.09
74HC00PW;118,10,c,Active,0.31,0.11
RC0402FR-0710K,10,d,Active,0.01,0.001
"""


def run(*args):
    return CliRunner().invoke(app, ["offers", *map(str, args)])


def test_a_list_becomes_offers_and_a_study_reads_them(tmp_path):
    (tmp_path / "list.csv").write_text(LIST)
    done = run(tmp_path / "list.csv", "-o", tmp_path / "offers.toml", "--column", "stock=Free")
    assert done.exit_code == 0, done.output
    assert "stock" in done.output
    data = tomllib.loads((tmp_path / "offers.toml").read_text())
    assert data["columns"]["stock"] == "Free"
    assert len(data["offer"]) == 3
    (tmp_path / "board.toml").write_text(
        'offers = ["offers.toml"]\n[[part]]\nrefs = ["U1"]\nnumber = "00"\nfamily = "HC"\nterminals = 14\n'
    )
    part = run_study(read_study(tmp_path / "board.toml")).parts[0]
    option = next(one for one in part.options if one.name == "TSSOP-14")
    assert (option.price, option.makers) == (0.10, 2)
    assert {why.limit for why in next(one for one in part.options if one.name == "SO-14").rejections} >= {"lifecycle"}


def test_the_kept_mapping_is_read_again_and_files_are_not_overwritten(tmp_path, capsys):
    (tmp_path / "list.csv").write_text(LIST)
    assert run(tmp_path / "list.csv", "-o", tmp_path / "a.toml", "--column", "stock=Free").exit_code == 0
    assert run(tmp_path / "list.csv", "-o", tmp_path / "b.toml", "--mapping", tmp_path / "a.toml").exit_code == 0
    a, b = (tomllib.loads((tmp_path / name).read_text()) for name in ("a.toml", "b.toml"))
    assert a["offer"] == b["offer"]
    for target, more, says in (("a.toml", (), "exists"), ("c.toml", ("--column", "stock"), "not a column")):
        with pytest.raises(SystemExit) as stopped:
            main(["offers", str(tmp_path / "list.csv"), "-o", str(tmp_path / target), *more])
        assert stopped.value.code == 2
        assert says in capsys.readouterr().err


def test_columns_can_be_looked_at_first(tmp_path):
    (tmp_path / "list.csv").write_text(LIST)
    done = run(tmp_path / "list.csv", "-o", tmp_path / "offers.toml", "--columns-only")
    assert "order_code" in done.output
    assert not (tmp_path / "offers.toml").exists()


def test_only_what_a_study_needs(tmp_path):
    (tmp_path / "list.csv").write_text(LIST + "SN74HC04PWR,1,a,Active,0.2,0.1\n")
    (tmp_path / "board.toml").write_text('[[part]]\nrefs = ["U1"]\nnumber = "04"\nfamily = "HC"\nterminals = 14\n')
    done = run(tmp_path / "list.csv", "-o", tmp_path / "offers.toml", "--study", tmp_path / "board.toml")
    assert done.exit_code == 0, done.output
    assert [offer["number"] for offer in tomllib.loads((tmp_path / "offers.toml").read_text())["offer"]] == ["04"]
