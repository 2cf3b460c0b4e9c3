"""The GS1 check digit: weights 3, 1, 3, 1 ... from the right, up to the next ten."""

from __future__ import annotations


def check_digit(digits: str) -> int:
    """The check digit that belongs after ``digits``.

    source  GS1, How to calculate a check digit manually

    >>> check_digit("629104150021")
    3
    """
    total = sum(
        int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits))
    )
    return -total % 10


def has_valid_check_digit(number: str) -> bool:
    """Whether the last digit is the check digit of those before it; digits only, two at least.

    >>> has_valid_check_digit("00349281589058"), has_valid_check_digit("00349281589059")
    (True, False)
    """
    if len(number) < 2 or not (number.isascii() and number.isdecimal()):
        return False
    return check_digit(number[:-1]) == int(number[-1])
