"""A forecast of needles as text: use and order, when each runs out, what expires before use."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from traywise.paper.columns import WIDTH, Page, pad, width_of
from traywise.paper.wording import day, supply_words
from traywise.session.needle_order import OrderLine, Plan, spare_words
from traywise.session.needles import Demand, Horizon, Kind
from traywise.session.needles_json import routes_of
from traywise.session.run_out import RunOut
from traywise.tray.plan import Supply

CAUTION = (
    "A forecast from these visits and figures, not from what the clinic will meet. "
    "Diluents come with their vaccines. "
    "It supposes that an order arrives before the stock runs out. "
    "The right needle for each child stays the table's."
)
_HEADS = ("item", "use", "5 to 95", "stock", "lost", "order", "route")
_LEFT = (0, 5, 6)  # columns of words; the others are figures, read from the right
_COLUMNS = ((0, 1, 2, 3, 4, 5, 6), (0, 1, 2, 3, 4, 5), (0, 1, 2, 3, 5), (0, 1, 3, 5), (0, 5))


def needles_text(
    expected: str,
    plan: Plan,
    use: Demand,
    lines: Sequence[OrderLine],
    *,
    stock_known: bool,
    width: int = WIDTH,
) -> str:
    """The whole forecast; ``expected`` says which visits it rests on."""
    page = Page(width)
    shown = page.run_on(_head(expected, plan, use.horizon, stock_known))
    rows = [_HEADS, *(_row(line, use, stock_known) for line in lines)]
    shown += ["", *_table(page, rows)]
    if stock_known:
        shown += ["", *_run_out_lines(page, lines, use.horizon)]
        expiring = list(_expiring(lines))
        if expiring:
            shown += ["", "Expires before it is used", *page.table(expiring, indent=2)]
    notes = ["lost: expires unused, or has expired.", f"{spare_words(plan)}."]
    shown += ["", *(line for note in notes if note != "." for line in page.run_on(note))]
    return "\n".join((*shown, *page.run_on(CAUTION)))


def _head(expected: str, plan: Plan, horizon: Horizon, stock_known: bool) -> str:
    head = (
        f"{expected} expected; {_count(horizon.sessions, 'session')} from "
        f"{horizon.start} over {_count(horizon.days, 'day')}; no-shows "
        f"{100 * horizon.no_show:g} of 100, walk-ins {horizon.walk_ins:g} a session; "
        f"supplies last in {100 * plan.service:g} of 100 horizons like this."
    )
    if not stock_known:
        head += " What is at hand is not known: with --supplies less may be needed."
    return head


def _row(line: OrderLine, use: Demand, stock_known: bool) -> tuple[str, ...]:
    lost = line.lost + line.expired
    boxes = f" ({line.boxes} x {line.box})" if line.box > 1 and line.boxes else ""
    return (
        kind_words(line.kind),
        f"{line.demand.mean:.0f}",
        f"{line.demand.quantile(0.05)} to {line.demand.quantile(0.95)}",
        str(line.in_stock) if stock_known else "?",
        f"{lost:.0f}" if lost >= 0.5 else "",
        f"{line.order}{boxes}",
        ", ".join(f"{route} {n:.0f}" for route, n in routes_of(line.kind, use.by_route)),
    )


def _table(page: Page, rows: Sequence[Sequence[str]]) -> list[str]:
    """Figures under each other; a narrow page goes without the columns that matter least."""
    for columns in _COLUMNS:
        widths = [max(width_of(row[column]) for row in rows) for column in columns]
        lines = [
            "  ".join(
                pad(row[column], width) if column in _LEFT else row[column].rjust(width)
                for column, width in zip(columns, widths, strict=True)
            ).rstrip()
            for row in rows
        ]
        if max(map(width_of, lines)) <= page.width:
            break
    return lines


def _run_out_lines(page: Page, lines: Sequence[OrderLine], horizon: Horizon) -> list[str]:
    rows = [(kind_words(line.kind), run_out_words(line.runs_out)) for line in lines]
    head = f"Runs out if nothing is ordered, through {horizon.end}: likely day (5 to 95 of 100)"
    return [*page.run_on(head), *page.table(rows, indent=2)]


def run_out_words(runs_out: RunOut) -> str:
    """The middle day and the range around it.

    >>> run_out_words(RunOut())
    'not within the horizon'
    """
    if runs_out.low is None:
        return "not within the horizon"
    low, high = day(runs_out.low), "later" if runs_out.high is None else day(runs_out.high)
    if runs_out.mid is None:
        return f"perhaps, from {low}; more likely not within the horizon"
    mid = day(runs_out.mid)
    return mid if low == mid == high else f"{mid} ({low} to {high})"


def _expiring(lines: Sequence[OrderLine]) -> Iterator[tuple[str, ...]]:
    for line in lines:
        for lot in line.lots:
            if lot.expired:
                yield kind_words(line.kind), day(lot.expires), f"all {lot.count} expired: take out"
            elif lot.unused >= 0.5:
                text = f"about {lot.unused:.0f} of {lot.count} left unused"
                yield kind_words(line.kind), day(lot.expires), text


def kind_words(kind: Kind) -> str:
    """A kind as the other pages write it."""
    return supply_words(
        Supply(
            item=kind.item,
            count=0,
            gauge=kind.gauge,
            length_mm=kind.length_mm,
            volume_ml=kind.volume_ml,
        )
    )


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
