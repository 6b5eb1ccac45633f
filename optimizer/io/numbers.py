"""Numbers as hands type them: decimal point or decimal comma, never a guess."""

from __future__ import annotations

import re

from optimizer.errors import InputError

_PLAIN = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?")
_DATE = re.compile(
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}[-. ]*[A-Za-z]{3,}|[A-Za-z]{3,}[-. ]*\d"
)
_WITH_UNIT = re.compile(r"[-+]?[\d.,]+\s*(mm|in|inch|inches|\"|''|um|µm|n|kn|lbf?|lbs|kgf?)", re.I)


#: letters that a number has at most, and its size beyond which it is none that was measured
LONGEST, SMALLEST, GREATEST = 40, 1e-12, 1e12


class NotANumber(Exception):  # noqa: N818 - a finding to report, not a failure
    """A cell that is not one plain number; the text is the remedy."""


def typed_number(text: str, what: str = "number", where: str = "") -> float:
    """Return a number that was typed; `what` it should be and `where` are for messages.

    Raises
    ------
    InputError
        when it is none.
    """
    try:
        return parse_number(text)
    except NotANumber as error:
        raise InputError(f"{text or 'Nothing'} is no {what}.", where, str(error)) from None


def parse_number(text: str, unit: str = "of the column's name") -> float:
    """Return the number in a cell; comma and point both mark decimals.

    `unit` says where the unit stands, for one who wrote it behind the number.

    Raises
    ------
    NotANumber
        when the cell is empty, holds anything else, or holds both a comma and a point.
    """
    if not text:
        raise NotANumber("Fill the cell in.")
    if len(text) > LONGEST:  # no number; and some patterns take the square of the length
        raise NotANumber("Write a plain number.")
    if _PLAIN.fullmatch(text):
        value = float(text.replace(",", "."))
        if value == 0 or SMALLEST < abs(value) < GREATEST:
            return value
        raise NotANumber("Write a number of ordinary size.")
    if text.count(",") + text.count(".") > 1 and re.fullmatch(r"[-+]?[\d.,]+", text):
        raise NotANumber(
            "A comma and a point, or two of them, leave the value open: write one decimal mark "
            "and nothing between thousands."
        )
    if _WITH_UNIT.fullmatch(text):
        raise NotANumber(f"Write the number alone, in the unit {unit}.")
    if _DATE.search(text):
        raise NotANumber(
            "A spreadsheet may have made a date of it: format the column as text or number and "
            "type it again."
        )
    raise NotANumber("Write a plain number.")
