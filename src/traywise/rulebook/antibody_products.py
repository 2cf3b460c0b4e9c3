"""Antibody-containing products: how long each holds back MMR, VAR and MMRV.

One row per line of the interval table, read from ``tables/antibody-products.toml``.
The kinds are the keys that a child's record writes under ``products``.
"""

from __future__ import annotations

from functools import cache

import msgspec

from traywise.rulebook.tables import load_table


class AntibodyProduct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A product with its usual dose and reason; ``months`` is the wait in calendar months."""

    key: str
    text: str
    months: int
    note: str = ""
    source: str


@cache
def antibody_products() -> dict[str, AntibodyProduct]:
    """All products by key; raises RulebookError when the table is not fit for use."""
    return {row.key: row for row in load_table("antibody-products", AntibodyProduct)}


def months_to_wait(kind: str) -> int | None:
    """Calendar months from the end of the product to MMR, VAR or MMRV.

    None for a kind that the table does not hold: unknown, not "no wait".

    >>> months_to_wait("hbig"), months_to_wait("nirsevimab"), months_to_wait("a new one")
    (3, 0, None)
    """
    product = antibody_products().get(kind)
    return None if product is None else product.months
