"""JSON as it is written to files: one blank a level, as `json.dumps(…, ensure_ascii=False, indent=1)` puts it.

Python's own encoder with an indent is a chain of generators, a fifth of a second for the five million characters of
a board's result; this one is a third of that and gives the same characters.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from json.encoder import encode_basestring

WORDS = {None: "null", True: "true", False: "false"}


def json_text(value: object) -> str:
    """A value as JSON with an indent of one.

    Parameters
    ----------
    value : mapping with texts for keys, list, tuple, text, number, truth value or None, of each other

    Raises
    ------
    ValueError
        For a number that is none or infinite, which JSON has no word for.
    TypeError
        For anything else.

    Examples
    --------
    >>> print(json_text({"a": [1, 2.5, "µ"], "b": {}}))
    {
     "a": [
      1,
      2.5,
      "µ"
     ],
     "b": {}
    }
    """
    into: list[str] = []
    _put(value, "\n", into)
    return "".join(into)


def _put(value: object, line: str, into: list[str]) -> None:
    """Append a value whose own line begins with `line`, a line's end and the blanks."""
    if isinstance(value, str):
        into.append(encode_basestring(value))
    elif value is None or isinstance(value, bool):
        into.append(WORDS[value])
    elif isinstance(value, int):
        into.append(int.__repr__(value))
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"a number that JSON has no word for: {value!r}")
        into.append(float.__repr__(value))
    elif isinstance(value, Mapping):
        inner = f"{line} "
        lead = "{" + inner
        for key, one in value.items():
            if not isinstance(key, str):
                raise TypeError(f"a key that is no text: {key!r}")
            if type(one) is str:  # most of a result: not worth a call of its own
                into += (lead, encode_basestring(key), ": ", encode_basestring(one))
            else:
                into += (lead, encode_basestring(key), ": ")
                _put(one, inner, into)
            lead = "," + inner
        into.append(line + "}" if value else "{}")
    elif isinstance(value, (list, tuple)):
        inner = f"{line} "
        lead = "[" + inner
        for one in value:
            into.append(lead)
            _put(one, inner, into)
            lead = "," + inner
        into.append(line + "]" if value else "[]")
    else:
        raise TypeError(f"nothing that JSON knows: {type(value).__name__}")
