"""Stock figures of ``tables/stock.toml``: indicative wastage and the share kept as minimum."""

from __future__ import annotations

from functools import cache
from typing import Literal

import msgspec

from traywise.rulebook.tables import load_table


class StockFigure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One figure: a share of the doses; ``doses_*`` and ``powder`` say for which vials."""

    key: str
    kind: Literal["wastage", "minimum", "syringe reserve"]
    share: float
    doses_from: int = 1
    doses_to: int | None = None
    powder: bool | None = None
    note: str = ""
    source: str


@cache
def stock_figures() -> tuple[StockFigure, ...]:
    """All figures, in the order of the table."""
    return load_table("stock", StockFigure)


def stock_share(kind: str) -> StockFigure:
    """The one figure of a kind: "minimum" or "syringe reserve"."""
    return next(figure for figure in stock_figures() if figure.kind == kind)


def indicative_wastage(vial_doses: int, *, powder: bool) -> StockFigure | None:
    """The indicative wastage of a vial size; None where the table has none."""
    return next(
        (
            figure
            for figure in stock_figures()
            if figure.kind == "wastage"
            and figure.doses_from <= vial_doses
            and (figure.doses_to is None or vial_doses <= figure.doses_to)
            and figure.powder in (None, powder)
        ),
        None,
    )
