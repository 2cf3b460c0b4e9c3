"""The known word that a misspelt one comes nearest to."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The nearest known word, None when none is near: alike by ``cutoff``, from 0 to 1.

    >>> nearest("wieght_kg", ["weight_kg", "height_cm"]), nearest("eye colour", ["sex"])
    ('weight_kg', None)
    """
    from difflib import get_close_matches  # late: only a slip needs it

    found = get_close_matches(word, list(known), n=1, cutoff=cutoff)
    return found[0] if found else None
