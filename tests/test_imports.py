"""The house keeps its order: a room imports only rooms above it, no modules in a circle, also for types only."""

from __future__ import annotations

import graphlib
from pathlib import Path

import grimp
import pytest

# From the first that knows nothing to the last that may know all. A new room takes its place here.
ROOMS = (
    *("errors", "extras", "version", "graphs", "content", "disk", "memory", "heap", "lately"),
    *("quantities", "shapes", "untyped", "evidence", "outlines", "lands", "printing", "joints"),
    *("assembly", "designing", "service", "access", "costs"),
    *(
        "choosing",
        "fabdata",
        "study",
        "judging",
        "board",
        "review",
        "results",
        "sheets",
        "sweeping",
        "proving",
        "workbench",
        "cli",
    ),
)
# Doors of the whole package: they open every room by name, and nothing inside asks them for anything.
DOORS = frozenset({"landwise", "landwise.__main__"})
# Modules that load others by a name in a text, where no reader of imports sees it, and what they may load.
BY_NAME = {
    "landwise": "the names that `import landwise` offers",
    "landwise.cli": "the commands, each when it is called",
    "landwise.choosing.optimum.milp": "its solver, which prints as it loads",
    "landwise.disk": "the values it reads back, by the names they were kept under",
    "landwise.evidence.book": "the formulas of each room, which register there: data to the book, never called by it",
    "landwise.proving.measures": "its own measures, by room",
    "landwise.workbench.book": "the formulas of each room, to list them",
    "landwise.workbench.pages": "the pages of the workbench",
}


@pytest.fixture(scope="module")
def graph():
    return grimp.build_graph("landwise", cache_dir=None)


def room_of(module):
    return module.split(".")[1]


def wrong_imports(graph):
    found = []
    for importer in sorted(graph.modules - DOORS):
        for imported in sorted(graph.find_modules_directly_imported_by(importer)):
            line = graph.get_import_details(importer=importer, imported=imported)[0]
            place = f"{importer} line {line['line_number']}: {line['line_contents'].strip()}"
            if imported in DOORS:
                found.append(f"{place} (the package's own door)")
            elif ROOMS.index(room_of(imported)) > ROOMS.index(room_of(importer)):
                found.append(f"{place} ({room_of(importer)} stands above {room_of(imported)})")
    return found


def test_every_room_has_its_place(graph):
    assert {room_of(module) for module in graph.modules - DOORS} <= set(ROOMS)


def test_no_room_imports_one_below_it(graph):
    found = wrong_imports(graph)
    assert not found, found[0]


def test_no_modules_import_each_other_in_a_circle(graph):
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    try:
        graphlib.TopologicalSorter(imports).prepare()
    except graphlib.CycleError as circle:
        pytest.fail(" imports ".join(reversed(circle.args[1])))


def test_loading_by_name_stays_where_it_is_known():
    import landwise

    folder = Path(landwise.__file__).parent
    names = {
        ".".join(("landwise", *path.relative_to(folder).with_suffix("").parts)).removesuffix(".__init__")
        for path in folder.rglob("*.py")
        if "import_module(" in path.read_text(encoding="utf-8")
    }
    assert names == set(BY_NAME)


def test_the_reader_of_imports_sees_an_import_below_a_circle_and_one_for_types(tmp_path, monkeypatch):
    # The check itself, on a house built wrong.
    house = tmp_path / "crooked"
    for room in ("evidence", "board"):
        (house / room).mkdir(parents=True)
        (house / room / "__init__.py").write_text("")
    (house / "__init__.py").write_text("")
    (house / "evidence" / "low.py").write_text(
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from crooked.board import high\n"
    )
    (house / "board" / "high.py").write_text("def ask():\n    from crooked.evidence import low\n    return low\n")
    monkeypatch.syspath_prepend(str(tmp_path))
    crooked = grimp.build_graph("crooked", cache_dir=None)
    assert any("evidence stands above board" in one for one in wrong_imports(crooked))
    with pytest.raises(pytest.fail.Exception, match=r"crooked\.board\.high imports"):
        test_no_modules_import_each_other_in_a_circle(crooked)
