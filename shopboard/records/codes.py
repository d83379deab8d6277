"""The digits on our printed codes: kind, number, check digit. Letters never appear, so no scan can press a key.

A code is 8 digits: one for the kind, six for the number, and the check digit of ISO/IEC 7064 MOD 11,10, which
catches every single wrong digit and nearly every swap.
"""

from __future__ import annotations

from .base import Table

_KINDS = {Table.JOBS: "1", Table.MACHINES: "2", Table.PARTS: "3", Table.CUSTOMERS: "4", Table.STOCK: "5"}
#: The tables whose records have a printed code.
CODED = tuple(_KINDS)
_TABLES = {digit: table for table, digit in _KINDS.items()}

#: How many digits a code of ours has.
CODE_LENGTH = 8


def check_digit(digits: str) -> str:
    """The ISO/IEC 7064 MOD 11,10 check digit of a string of digits.

    >>> check_digit("0794")
    '5'
    """
    carry = 10
    for digit in digits:
        carry = (carry + int(digit)) % 10 or 10
        carry = carry * 2 % 11
    return str((11 - carry) % 10)


def code_for(table: Table, number: int) -> str:
    """The code printed for the record `number` (1 … 999 999) of a table.

    >>> code_for(Table.JOBS, 412)
    '10004128'
    """
    if table not in _KINDS:
        raise ValueError(f"{table} have no printed codes")
    if not 1 <= number <= 999_999:
        raise ValueError(f"no code for number {number}: 1 to 999999 have one")
    body = f"{_KINDS[table]}{number:06d}"
    return body + check_digit(body)


def read_code(digits: str) -> tuple[Table, int] | None:
    """What a scanned code names, or None when it is none of ours (wrong length, kind or check digit).

    >>> read_code(code_for(Table.JOBS, 412))
    (<Table.JOBS: 'jobs'>, 412)
    """
    if len(digits) != CODE_LENGTH or not (digits.isascii() and digits.isdigit()):
        return None
    table = _TABLES.get(digits[0])
    if table is None or check_digit(digits[:-1]) != digits[-1] or int(digits[1:-1]) == 0:
        return None
    return table, int(digits[1:-1])
