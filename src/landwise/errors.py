"""The errors landwise raises. Each carries the facts; only the command line and the web edge print them."""

from __future__ import annotations


class LandwiseError(Exception):
    """Base of every error that is the user's to mend.

    Parameters
    ----------
    message : str
        What is wrong, in one sentence.
    file : str, optional
        The file it was found in.
    place : str, optional
        Where in that file: line, cell, table and field.
    found, expected : str, optional
        What stood there, and what was expected instead.
    about : str, optional
        Key of the quantity or name at fault, such as `outline`, for a page that marks a field.

    Examples
    --------
    >>> error = LandwiseError("unknown outline", file="board.toml", place="part U3", found="SO-15",
    ...                       expected="one of `landwise outlines`")
    >>> print(error)
    board.toml: part U3: unknown outline; found SO-15; expected one of `landwise outlines`
    """

    def __init__(
        self,
        message: str,
        *,
        file: str | None = None,
        place: str | None = None,
        found: str | None = None,
        expected: str | None = None,
        about: str = "",
    ) -> None:
        super().__init__(message)
        self.message = message
        self.file = file
        self.place = place
        self.found = found
        self.expected = expected
        self.about = about

    def __str__(self) -> str:
        where = ": ".join(part for part in (self.file, self.place) if part)
        facts = [self.message]
        if self.found is not None:
            facts.append(f"found {self.found}")
        if self.expected is not None:
            facts.append(f"expected {self.expected}")
        return (where + ": " if where else "") + "; ".join(facts)

    def within(self, *, file: str | None = None, place: str | None = None) -> LandwiseError:
        """The same error with its file or outer place filled in, for a caller that knows more."""
        outer = ", ".join(part for part in (place, self.place) if part) or None
        return type(self)(
            self.message,
            file=self.file or file,
            place=outer,
            found=self.found,
            expected=self.expected,
            about=self.about,
        )


class InputError(LandwiseError, ValueError):
    """A value that can't be used as it stands."""


class UnitError(InputError):
    """A quantity whose unit is wrong, missing or unknown."""


class ValidityError(InputError):
    """An input outside the range in which a formula holds."""


class UnknownNameError(LandwiseError, LookupError):
    """A name that landwise doesn't know: an outline, a formula, a preset."""


class FileError(LandwiseError, OSError):
    """A file that can't be read or written."""

    def __str__(self) -> str:
        return LandwiseError.__str__(self)


class ExtraError(LandwiseError):
    """Something that needs an extra which is not installed."""
