"""What the reader of study files expected, in the words of who typed it, not in the library's that checks them."""

from __future__ import annotations

import re

PLAIN = (
    (r"Input should be greater than or equal to (\S+)", r"at least \1"),
    (r"Input should be less than or equal to (\S+)", r"at most \1"),
    (r"Input should be greater than (\S+)", r"more than \1"),
    (r"Input should be less than (\S+)", r"less than \1"),
    (r"Input should be a valid integer.*", "a whole number"),
    (r"Input should be a valid number.*", "a number"),
    (r"Input should be a valid string", "a text"),
    (r"Input should be a valid boolean.*", "yes or no"),
    (r"List should have at least 1 item.*", "at least one"),
    (r"Input should be (.*)", r"\1"),
)


def plainly(text: str) -> str:
    """What a validator expects, in the words of who typed it.

    >>> plainly("Input should be greater than or equal to 1"), plainly("Input should be a valid integer")
    ('at least 1', 'a whole number')
    """
    for pattern, plain in PLAIN:
        if re.match(pattern, text):
            return re.sub(pattern, plain, text)
    return text
