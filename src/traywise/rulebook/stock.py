"""Stock figures (``tables/stock.toml``) and the room of a dose (``tables/packed-volumes.toml``)."""

from __future__ import annotations

from functools import cache
from typing import Literal

import msgspec

from traywise.rulebook.tables import load_table


class StockFigure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One figure: a share of the doses; ``doses_*`` and ``powder`` say for which vials."""

    key: str
    kind: Literal["wastage", "minimum", "syringe reserve", "safety box"]
    share: float = 0.0
    count: int = 0
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
    """The one figure of a kind that has but one: all except "wastage"."""
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


class PackedVolume(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Room of one dose in cm3: in its inner box, in the outer carton, and of its diluent."""

    key: str
    vaccines: tuple[str, ...]
    vial_doses: int
    presentation: str = ""  # empty: any
    inner_cm3: float
    outer_cm3: float | None = None
    diluent_cm3: float | None = None
    note: str = ""
    source: str


@cache
def packed_volumes() -> tuple[PackedVolume, ...]:
    """All rows, in the order of the table."""
    return load_table("packed-volumes", PackedVolume)


def packed_volume(vaccine: str, vial_doses: int, presentation: str = "") -> PackedVolume | None:
    """The room of a product's dose in that vial size; None where the table has none."""
    return next(
        (
            row
            for row in packed_volumes()
            if vaccine in row.vaccines
            and row.vial_doses == vial_doses
            and (not row.presentation or not presentation or row.presentation == presentation)
        ),
        None,
    )
