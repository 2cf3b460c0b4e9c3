"""What to order: the use of the last weeks against what is there, by the shelf room's levels."""

from __future__ import annotations

from collections import defaultdict
from datetime import timedelta
from typing import NamedTuple

from django.utils import timezone

from traywise.shelf.reorder import StockLevels, order_doses, stock_levels
from traywise.workbench.asking.shelf_rows import name_of, why_not
from traywise.workbench.shelf.models import Lot, StockEntry

LOOK_BACK_DAYS = 28


class OrderLine(NamedTuple):
    """One product: doses used in the look-back, usable now, the levels, what to order."""

    name: str
    used: int
    usable: int
    levels: StockLevels
    order: int


def order_list(every_days: int, lead_days: int) -> list[OrderLine]:
    """One line a product that was used or is on the shelf; what is short comes first."""
    since = timezone.now() - timedelta(days=LOOK_BACK_DAYS)
    used: dict[str, int] = defaultdict(int)
    usable: dict[str, int] = defaultdict(int)
    vial: dict[str, int] = defaultdict(lambda: 1)
    lots = {lot.pk: lot for lot in Lot.objects.prefetch_related("vials")}
    for lot in lots.values():
        name = name_of(lot)
        usable[name] += lot.doses_left if why_not(lot) is None else 0
        vial[name] = max(vial[name], lot.doses_per_vial or 1)
    spent = StockEntry.objects.filter(
        at__gte=since, reason__in=(StockEntry.GIVEN, StockEntry.WASTED, StockEntry.RETURNED)
    )
    for lot_id, delta in spent.values_list("lot_id", "delta"):
        used[name_of(lots[lot_id])] -= delta
    lines = []
    for name in usable.keys() | used.keys():
        need = max(0, used[name]) * every_days / LOOK_BACK_DAYS
        levels = stock_levels(need, every_days, lead_days)
        order = order_doses(levels, usable[name], vial_doses=vial[name]) if need else 0
        lines.append(OrderLine(name, max(0, used[name]), usable[name], levels, order))
    return sorted(lines, key=lambda line: (-line.order, line.name.casefold()))
