"""Changes put into a study's own text: no comment and no layout is lost, however the study is laid out."""

from __future__ import annotations

import copy
import tomllib

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from landwise.errors import InputError
from landwise.workbench.boardtoml import edited

HEADERS = """# A study as `start` writes it. #0
landwise = 1 #1

[board] #2
layers = 2 #3
size = "40 x 30 mm"
#4
[want]
max_height = "3 mm" #5

# of the whole board #6
[want.board_limits] #7
area = 300 #8
# kept free #9

# the gate #10
[[part]] #11
refs = ["U1", "U2"] #12
# it drives the bus #13
terminals = 5
options = [ #14
  { outline = "SOT-23-5", price = 0.03 }, #15
  # asked for #16
  { outline = "SC-70-5", price = 0.03 } #17
] #18

# the register #19
[[part]]
refs = ["U3"] #20
terminals = 16
# the end #21
"""
INLINE = """#0
landwise = 1 #1
board = { layers = 2, size = "40 x 30 mm" } #2
#3
want = { max_height = "3 mm", board_limits = { area = 300 } } #4
part = [ #5
    # the gate #6
    { refs = ["U1", "U2"], terminals = 5, options = [{ outline = "SOT-23-5", price = 0.03 }] }, #7
    { refs = ["U3"], terminals = 16 }, #8
    # the end #9
] #10
#11
"""
DOTTED = """#0
landwise = 1
board.layers = 2 #1
# between #2
board.size = "40 x 30 mm" #3
want.max_height = "3 mm" #4
want.board_limits.area = 300 #5
# parts #6
[[part]] #7
refs = ["U1", "U2"]
terminals = 5 #8
use.cycles = 9 #9
#10
[[part]]
refs = ["U3"] #11
terminals = 16
"""
SCATTERED = """[want.board_limits] #0
area = 300 #1

[[part]] #2
refs = [
    "U1", #3
    "U2", #4
]
terminals = 5 #5

[want] #6
max_height = "3 mm" #7
[board]
layers = 2
size = '''40 x 30 mm''' #8
[[part]]
#9
refs = ["U3"]
terminals = 16
[part.use] #10
cycles = 9 #11
"""
BARE = """landwise = 1
[board]
# nothing but a comment #0

[[part]]
refs = ["U3"] #1
    # indented #2
    terminals = 16 #3
"""
LAYOUTS = {"headers": HEADERS, "inline": INLINE, "dotted": DOTTED, "scattered": SCATTERED, "bare": BARE}


def data_of(text):
    data = tomllib.loads(text)
    return data, data.pop("part")


def comments(text):
    """The numbers of the comments in their order; no value holds a number sign."""
    return [line.rpartition("#")[2].strip() for line in text.splitlines() if "#" in line]


def unchanged(parts):
    return list(enumerate(parts))


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)
def test_what_does_not_change_is_the_same_to_the_letter(text):
    data, parts = data_of(text)
    assert edited(text, data, unchanged(parts)) == text


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)
def test_a_change_touches_its_own_line_alone(text):
    data, parts = data_of(text)
    parts[-1]["terminals"] = 14
    made = edited(text, data, unchanged(parts))
    assert made == text.replace("terminals = 16", "terminals = 14")


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)
def test_changes_in_every_table_keep_every_comment_in_its_order(text):
    data, parts = data_of(text)
    data["board"] = {**data["board"], "layers": 4, "thickness": "1.6 mm"}
    want = data.get("want", {})
    data["want"] = {**want, "max_height": "2 mm", "board_limits": {"area": 250, "risk": 0.5}}
    data["use"] = {"cycles": 100}
    for part in parts:
        part["terminals"] = 8
        part["package"] = "SO-8"
    parts[0].setdefault("options", []).append({"outline": "DFN-6-2x2", "price": 0.05})
    made = edited(text, data, [*unchanged(parts), (None, {"refs": ["U9"], "terminals": 20})])
    assert comments(made) == comments(text)
    assert tomllib.loads(made) == {**data, "part": [*parts, {"refs": ["U9"], "terminals": 20}]}


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)
def test_a_comment_of_its_own_line_outlives_the_key_and_the_part_beside_it(text):
    data, parts = data_of(text)
    data["board"].pop("layers", None)
    data.get("want", {}).pop("board_limits", None)
    made = edited(text, data, unchanged(parts)[1:])
    assert tomllib.loads(made) == ({**data, "part": parts[1:]} if parts[1:] else data)
    # All that goes is what stands on the lines, and inside the part and the table, that go; U3 keeps all of its own.
    own = [line for line in text.partition("U3")[2].splitlines() if "#" in line]
    assert parts[1:] == [] or comments("\n".join(own)) == [
        one for one in comments(made) if one in comments("\n".join(own))
    ]


def test_the_first_key_of_a_table_with_a_comment_alone_stands_in_it():
    data, parts = data_of(BARE)
    made = edited(BARE, {**data, "board": {"layers": 4}}, unchanged(parts))
    assert made == BARE.replace("[board]\n", "[board]\nlayers = 4\n")


def test_a_new_table_stands_before_the_parts_and_what_is_said_above_them():
    data, parts = data_of(HEADERS)
    made = edited(HEADERS, {**data, "costs": {"run": 100}}, unchanged(parts))
    assert made == HEADERS.replace("# the gate", "[costs]\nrun = 100\n\n# the gate")


def test_a_part_taken_out_leaves_what_stands_above_the_next():
    data, parts = data_of(HEADERS)
    made = edited(HEADERS, data, unchanged(parts)[1:])
    assert '# the gate #10\n\n# the register #19\n[[part]]\nrefs = ["U3"]' in made


def test_a_table_between_two_parts_stays_between_them():
    text = '[[part]]\nrefs = ["U1"] #0\n\n#1\n[costs]\nrun = 1\n\n# the register #2\n[[part]]\nrefs = ["U3"]\n'
    made = edited(text, {"costs": {"run": 9}}, [(0, {"refs": ["U1"]}), (1, {"refs": ["U4"]})])
    assert made == text.replace("U3", "U4").replace("1\n\n# the", "9\n\n# the")
    assert edited(text, {"costs": {"run": 1}}, [(0, {"refs": ["U1"]})]) == text.rpartition("[[part]]")[0]


def test_words_that_look_like_headers_are_words():
    text = '[board]\nname = """\n[[part]]\n[part.x]\n"""\n[[part]]\nrefs = ["part-"]\n'
    with pytest.raises(InputError, match="told from a word"):
        edited(text, {"board": {"name": "[[part]]\n[part.x]\n"}}, [(0, {"refs": ["part-"]})])


def test_what_somebody_typed_is_marked_a_guess_no_more():
    text = (
        'landwise = 1\n[[part]]\nrefs = ["U1"]\nterminals = 14 # guessed from the number\npackage = "SO-14" # guess\n'
    )
    made = edited(text, {"landwise": 1}, [(0, {"refs": ["U1"], "terminals": 16, "package": "SO-14"})])
    assert made == text.replace("14 # guessed from the number", "16")


def test_windows_line_ends_stay():
    text = HEADERS.replace("\n", "\r\n")
    data, parts = data_of(text)
    data["board"]["thickness"] = "1.6 mm"
    made = edited(text, data, unchanged(parts))
    assert "\n" not in made.replace("\r\n", "")
    assert made.replace("\r\n", "\n") == HEADERS.replace('30 mm"\n', '30 mm"\nthickness = "1.6 mm"\n')


def test_what_is_no_toml_is_an_error():
    with pytest.raises(InputError, match="field by field"):
        edited("a = \n", {"a": 1}, [])


NAMES = st.sampled_from(["layers", "size", "area", "max_height", "terminals", "notes", "odd key"])
SCALARS = st.one_of(st.integers(0, 99), st.booleans(), st.floats(0, 9), st.text("aé\"\\'[]{}\n\t ", max_size=5))
TABLES = st.dictionaries(NAMES, st.one_of(SCALARS, st.lists(SCALARS, max_size=3)), max_size=4)
WHOLE = st.dictionaries(
    st.sampled_from(["board", "want", "use", "costs"]), st.one_of(TABLES, st.dictionaries(NAMES, TABLES, max_size=2))
)
PARTS = st.lists(
    st.tuples(
        st.one_of(st.none(), st.integers(0, 1)),
        st.builds(
            lambda one, options: {**one, **({"options": options} if options else {})},
            TABLES,
            st.lists(TABLES, max_size=3),
        ),
    ),
    max_size=4,
    unique_by=lambda one: one[0] if one[0] is not None else object(),
)


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)
@settings(max_examples=20, deadline=None, derandomize=True, phases=[Phase.explicit, Phase.generate])
@given(data=WHOLE, parts=PARTS)
def test_any_change_of_any_layout_gives_the_data_that_was_meant(text, data, parts):
    _, old = data_of(text)
    parts = sorted(
        (one for one in parts if one[0] is None or one[0] < len(old)), key=lambda one: one[0] is None or one[0] - 9
    )
    meant = {**data, "landwise": 1}
    made = edited(text, copy.deepcopy(meant), copy.deepcopy(parts))
    assert tomllib.loads(made) == {**meant, **({"part": [part for _, part in parts]} if parts else {})}
