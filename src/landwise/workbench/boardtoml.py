"""Changes put into a study's own text: what does not change stays as it was written, comments and layout and all.

The text is read and written by tomlkit, which keeps every character. What is ours is where a change goes: into the
value that stands there, after the last key of its table, or as a new table before the parts.

Longer than other modules: whatever moves a table must know the comments and blank lines that belong to its neighbours.
"""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any, TypeAlias

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, Comment, InlineTable, Item, Key, Null, SingleKey, Table, Whitespace

from landwise.errors import InputError
from landwise.workbench.tomltext import key_text, toml_text, value_text

Value: TypeAlias = Any  # what tomllib reads: text, numbers, true and false, dates, lists and tables of them
Part: TypeAlias = tuple[int | None, Mapping[str, Value]]
Entry: TypeAlias = tuple[Key | None, Item]

_PART_HEADER = re.compile(
    r"(?m)^(?P<part>[ \t]*\[\[(?P<in>[ \t]*)part(?P<out>[ \t]*)\]\])|^(?P<open>[ \t]*\[\[?[ \t]*)part\."
)


def edited(text: str, data: Mapping[str, Value], parts: Sequence[Part]) -> str:
    """The text of a study after changes.

    Parameters
    ----------
    text : str
        As it stands.
    data : mapping
        All tables as they shall be, but the parts.
    parts : sequence of (int or None, mapping)
        The parts as they shall be, each with its place in the text; None for a new one.

    Raises
    ------
    InputError
        If the text is no TOML, or is laid out so that the change can't be put into it without rewriting more than
        was changed: nothing is then changed.

    Notes
    -----
    A comment at the end of a changed line stays, unless it marks the value as a guess: what somebody has typed is none.
    Comments above a part that is taken out stay too.

    Examples
    --------
    >>> text = '[want] # limits\\nmax_height = "3 mm" # of the case\\n\\n[[part]]\\nrefs = ["U1"]\\n'
    >>> print(edited(text, {"want": {"max_height": "2 mm"}}, [(0, {"refs": ["U1"], "terminals": 14})]))
    [want] # limits
    max_height = "2 mm" # of the case
    <BLANKLINE>
    [[part]]
    refs = ["U1"]
    terminals = 14
    <BLANKLINE>
    """
    whole = _said({**data, **({"part": [dict(part) for _, part in parts]} if parts else {})})
    ends = "\r\n" if "\r\n" in text else "\n"
    plain = text.replace("\r\n", "\n")
    try:
        was = tomllib.loads(plain)
        made = _patched(plain if plain.endswith("\n") or not plain else plain + "\n", was, _said(data), parts)
        done = tomllib.loads(made) == whole
    except (ValueError, TOMLKitError) as error:
        raise InputError(
            "this text can't be changed field by field", found=str(error), expected="a TOML file"
        ) from None
    if not done:
        raise InputError("this change can't be put into the text as it is laid out", expected="change the text itself")
    return made.replace("\n", ends)


def _patched(text: str, was: Mapping[str, Value], data: Mapping[str, Value], parts: Sequence[Part]) -> str:
    name = "part"
    while name in text:  # no word of the text, so that it can be found again in what is written
        name += "-"
    document = tomlkit.parse(_parts_named(text, name))
    old = was.get("part", [])
    inside = {key for key, value in data.items() if key in was or not _headed(value)}
    own = {key: value for key, value in was.items() if key != "part"}
    _merge([document], own, {key: value for key, value in data.items() if key in inside})
    said = [(at, _said(part)) for at, part in parts]
    if _found([document], "part"):
        _set_listed(document, old, [part for _, part in said])
    else:
        _set_parts(document, name, old, said)
    for key in data:
        if key not in inside:
            made = tomlkit.parse(toml_text({key: data[key]})).item(key)
            assert isinstance(made, (Table, AoT))
            _new_table(document, key, made, name)
    return _parts_back(document.as_string().rstrip("\n") + "\n", name)


# Parts. tomlkit gathers a list of tables at its first place, so that comments above a later part would be left behind
# by it where another table stands between; while the text is worked on, each part is therefore a table of its own name.


def _parts_named(text: str, name: str) -> str:
    count = itertools.count(-1)
    at = next(count)

    def named(header: re.Match[str]) -> str:
        nonlocal at
        if header["part"]:
            at = next(count)
        return f"[{header['in']}{name}{at}{header['out']}]" if header["part"] else f"{header['open']}{name}{at}."

    return _PART_HEADER.sub(named, text)


def _parts_back(text: str, name: str) -> str:
    text = re.sub(rf"(?m)^([ \t]*)\[([ \t]*){name}\d+([ \t]*)\]", r"\1[[\2part\3]]", text)
    return re.sub(rf"(?m)^([ \t]*\[\[?[ \t]*){name}\d+\.", r"\1part.", text)


def _set_parts(document: TOMLDocument, name: str, was: Sequence[Mapping[str, Value]], parts: Sequence[Part]) -> None:
    """Parts with headers: those that stay keep their place in the text, new ones follow at the end."""
    if not all(_found([document], f"{name}{at}") for at in range(len(was))):
        raise InputError("a part's header can't be told from a word", expected="change the text itself")
    kept = [at for at, _ in parts if at is not None]
    for gone in sorted(set(range(len(was))) - set(kept), reverse=True):
        _take_out(document, f"{name}{gone}")
    for at, part in parts:
        if at is not None:
            _merge([item for _, _, item in _found([document], f"{name}{at}") if isinstance(item, Table)], was[at], part)
    for number, part in enumerate((part for at, part in parts if at is None), len(was)):
        keys = "".join(f"{key_text(key)} = {value_text(value)}\n" for key, value in part.items())
        made = tomlkit.parse(f"[{name}{number}]\n{keys}").item(f"{name}{number}")
        assert isinstance(made, Table)
        _new_table(document, f"{name}{number}", made, "\n")


def _set_listed(
    document: TOMLDocument, was: Sequence[Mapping[str, Value]], parts: Sequence[Mapping[str, Value]]
) -> None:
    """Parts as a list in line."""
    item = document.item("part")
    if not parts:
        document.remove("part")
    elif isinstance(item, Array):
        _merge_array(item, was, parts)


def _said(value: Value) -> Value:
    """The value without what is None: TOML has no word for it."""
    if isinstance(value, Mapping):
        return {name: _said(one) for name, one in value.items() if one is not None}
    return [_said(one) for one in value] if isinstance(value, list) else value


def _same(one: Value, other: Value) -> bool:
    # True equals 1 in Python, but not in a study.
    return one == other and isinstance(one, bool) == isinstance(other, bool)


# Tables. One table of the data may stand in several places of the text: [want], and further down [want.limits].

Home: TypeAlias = TOMLDocument | Table | InlineTable


def _merge(homes: Sequence[Home], was: Mapping[str, Value], now: Mapping[str, Value]) -> None:
    for name in was:
        if name not in now:
            for home in homes:
                while _found([home], name):
                    _take_out(_content(home), name)
    for name, value in now.items():
        if not _found(homes, name):
            _put(_content(_opened(homes)), name, value)
        elif not _same(was.get(name), value):
            _change(homes, name, was.get(name), value)


def _content(home: Home) -> Container:
    return home if isinstance(home, TOMLDocument) else home.value


def _opened(homes: Sequence[Home]) -> Home:
    """The place that has a header of its own, where there is one: a key under another would open the table twice."""
    return next((home for home in homes if not (isinstance(home, Table) and home.is_super_table())), homes[0])


def _found(homes: Sequence[Home], name: str) -> list[tuple[Container, Key, Item]]:
    bodies = [_content(home) for home in homes]
    return [(body, key, item) for body in bodies for key, item in body.body if key is not None and key.key == name]


def _change(homes: Sequence[Home], name: str, was: Value, now: Value) -> None:
    place, key, item = _found(homes, name)[0]
    items = [one for _, _, one in _found(homes, name)]
    tables = [one for one in items if isinstance(one, (Table, InlineTable))]
    if tables and isinstance(was, Mapping) and isinstance(now, Mapping) and (now or not key.is_dotted()):
        _merge(tables, was, now)
        for table in tables:
            if isinstance(table, InlineTable):
                _tidy(table)
    elif isinstance(item, Array) and isinstance(was, list) and isinstance(now, list):
        _merge_array(item, was, now)
    elif isinstance(item, AoT) and isinstance(was, list) and isinstance(now, list) and _tables_only(now):
        _set_tables(place, item, _places(was, now), was)
    elif len(items) == 1 and not isinstance(item, (Table, AoT)):
        _replace(place, name, item, _item(now))
    else:
        for home in homes:
            while _found([home], name):
                _take_out(_content(home), name)
        _put(_content(_opened(homes)), name, now)


def _places(was: Sequence[Value], now: Sequence[Value]) -> list[Part]:
    """Tables of a list as they shall be, each with the place of the one it was made from; None for a new one."""
    steps = SequenceMatcher(None, [repr(one) for one in was], [repr(one) for one in now], autojunk=False).get_opcodes()
    return [
        (start + at - first if at - first < end - start else None, now[at])
        for step, start, end, first, last in steps
        for at in range(first, last)
        if step != "delete"
    ]


def _tables_only(values: Sequence[Value]) -> bool:
    return bool(values) and all(isinstance(one, Mapping) for one in values)


def _replace(place: Container, name: str, item: Item, made: Item) -> None:
    place[name] = made
    # What was a guess is none any more once somebody has said it.
    guessed = "guess" in item.trivia.comment
    made.trivia.comment, made.trivia.comment_ws = ("", "") if guessed else (item.trivia.comment, item.trivia.comment_ws)
    made.trivia.indent, made.trivia.trail = item.trivia.indent, item.trivia.trail


def _item(value: Value) -> Item:
    # tomlkit's `item` gives the value or a container: a parsed line gives the item.
    made: Item = tomlkit.parse(f"it = {value_text(value)}\n").item("it")  # type: ignore[assignment]
    return made


def _put(place: Container, name: str, value: Value) -> None:
    """A new key after the last one: comments that stand below it belong to what follows."""
    tail = _below_keys(place)
    indents = [(item, item.trivia.indent) for _, item in place.body if isinstance(item, (Table, AoT))]
    place.append(name, _item(value))
    for table, indent in indents:  # tomlkit puts a blank line before the table that follows, which need not stand there
        table.trivia.indent = indent
    # The key stands where tomlkit put it, before the first table within; what was below the keys goes after it.
    at, item = next((n, item) for n, (key, item) in enumerate(place.body) if key is not None and key.key == name)
    if tail:
        item.trivia.trail = "\n"
        place.body[at + 1 : at + 1] = tail


def _below_keys(place: Container) -> list[Entry]:
    """Take out the comments and blank lines between the last key of a table and the first table within it."""
    body = place.body
    tables = next((n for n, (key, item) in enumerate(body) if key is not None and _opens(key, item)), len(body))
    start = tables
    while start and body[start - 1][0] is None:
        start -= 1
    tail = body[start:tables]
    del body[start:tables]
    return tail


def _opens(key: Key, item: Item) -> bool:
    return isinstance(item, AoT) or (isinstance(item, Table) and not key.is_dotted())


def _take_out(place: Container, name: str) -> None:
    """A key or table goes; the comments at the end of a table stand above what follows, and stay."""
    at, item = next((n, item) for n, (key, item) in enumerate(place.body) if key is not None and key.key == name)
    tail = list(_tail_comments(item.value)) if isinstance(item, Table) else []
    before = _before(place.body, at)
    place.remove(name)
    if tail:
        _end_of(before, place).extend(tail)


def _tail_comments(container: Container) -> Iterator[Entry]:
    body = container.body
    start = len(body)
    while start and body[start - 1][0] is None:
        start -= 1
    if start and isinstance(body[-1][1] if start == len(body) else body[start - 1][1], Table) and start == len(body):
        last = body[-1][1]
        assert isinstance(last, Table)
        yield from _tail_comments(last.value)
    yield from body[start:]


def _before(body: Sequence[Entry], at: int) -> Item | None:
    """What stands before a place, but for the gaps that tomlkit leaves where something was taken out."""
    return next((item for _, item in reversed(body[:at]) if not isinstance(item, Null)), None)


def _end_of(before: Item | None, place: Container) -> list[Entry]:
    """Where a line must go that shall stand after an item."""
    if isinstance(before, AoT) and len(before):
        before = before.body[-1]
    if isinstance(before, Table):
        body = before.value.body
        return _end_of(body[-1][1] if body else None, before.value)
    return place.body


def _new_table(document: TOMLDocument, name: str, table: Table | AoT, before: str) -> None:
    """A table that is new to the text: before the first whose name begins so, and what is said above it, else last."""
    body = document.body
    at = next((n for n, (key, _) in enumerate(body) if key is not None and key.key.startswith(before)), len(body))
    end, start = _end_of(_before(body, at), document), at
    above: list[Entry] = []
    if end is body:  # nothing but keys and comments stands before it
        while start and at < len(body) and isinstance(body[start - 1][1], Comment):
            start -= 1
        if start and not _ends_blank(body[:start]):
            body.insert(start, (None, Whitespace("\n")))
            start += 1
    else:
        while at < len(body) and isinstance(end[-1][1], Comment):
            above.insert(0, end.pop())
        if not _ends_blank(end):
            end.append((None, Whitespace("\n")))
    body.insert(start, (SingleKey(name), table))
    if at < len(body) - 1 or above:
        _end_of(table, document).extend([(None, Whitespace("\n")), *above])


def _headed(value: Value) -> bool:
    """Whether a new value is written under a header of its own: a table, or a list of tables."""
    return isinstance(value, Mapping) or (isinstance(value, list) and _tables_only(value))


def _ends_blank(body: Sequence[Entry]) -> bool:
    return bool(body) and isinstance(body[-1][1], Whitespace) and body[-1][1].as_string().endswith("\n")


# Lists.


def _merge_array(array: Array, was: Sequence[Value], now: Sequence[Value]) -> None:
    """Change the entries of a list in line, each where it stands: the others keep their lines and comments."""
    steps = SequenceMatcher(None, [repr(one) for one in was], [repr(one) for one in now], autojunk=False).get_opcodes()
    for _, start, end, first, last in [step for step in reversed(steps) if step[0] != "equal"]:
        both = min(end - start, last - first)
        for at in range(end - 1, start + both - 1, -1):
            del array[at]
        for at in range(both):
            old, new, item = was[start + at], now[first + at], array[start + at]
            if isinstance(old, Mapping) and isinstance(new, Mapping) and isinstance(item, InlineTable):
                _merge([item], old, new)
                _tidy(item)
            else:
                array[start + at] = _item(new)
        for at in range(both, last - first):
            array.insert(start + at, _item(now[first + at]))


def _tidy(table: InlineTable) -> None:
    """A new last key leaves the same room before the brace as the first has after it."""
    entries = [item for key, item in table.value.body if key is not None]
    if entries and entries[0].trivia.indent:
        entries[-1].trivia.trail = entries[0].trivia.indent


def _set_tables(place: Container, tables: AoT, now: Sequence[Part], was: Sequence[Mapping[str, Value]]) -> None:
    """Tables of a list as they shall be, each from the one at its place in the text."""
    old = list(tables.body)
    number = next(n for n, (_, item) in enumerate(place.body) if item is tables)
    for gone in sorted(set(range(len(old))) - {at for at, _ in now}, reverse=True):
        before = old[gone - 1] if gone else _before(place.body, number)
        tail = list(_tail_comments(old[gone].value))
        if before is not None:
            _end_of(before, place).extend(tail)
        else:
            place.body[0:0] = tail
    for at, one in now:
        if at is not None:
            _merge([old[at]], was[at], one)
    made = [old[at] if at is not None else _listed_table(one) for at, one in now]
    for before, table in itertools.pairwise(made):
        if not any(table is one for one in old) and not _ends_blank(_end_of(before, place)):
            _end_of(before, place).append((None, Whitespace("\n")))
    while len(tables):
        del tables[0]
    for table in made:
        tables.append(table)
        table.trivia.indent = ""


def _listed_table(value: Mapping[str, Value]) -> Table:
    made = tomlkit.parse(toml_text({"it": [value]})).item("it")
    assert isinstance(made, AoT)
    return made.body[0]
