"""The picture of a needles forecast: each kind's use as a range, beside stock and order.

Needles stand at true relative length on the left. One row a kind; every row has a scale
of its own, since thousands of wipes would hide a dozen long needles. Reads in grey.
"""

from __future__ import annotations

from html import escape

from traywise.paper.wording import supply_words
from traywise.session.needle_order import OrderLine, Plan, spare_words
from traywise.session.needles import Horizon
from traywise.tray.plan import Supply

WIDTH = 760
TOP, ROW = 92.0, 62.0
X0, X1 = 318.0, 628.0
PX_PER_MM = 3.0
FONT = "'Source Sans 3','Noto Sans','Segoe UI',Roboto,Arial,sans-serif"
INK, QUIET, RULE, PAPER, IODINE = "#17202b", "#4c5765", "#d9d5c8", "#fbfaf5", "#8a4b12"


def draw_needles_picture(
    lines: tuple[OrderLine, ...], horizon: Horizon, plan: Plan, *, stock_known: bool = True
) -> str:
    """One SVG, 760 wide, for screen and paper; no stock is drawn where none is known."""
    height = TOP + ROW * len(lines) + 82
    rows = "".join(_row(line, TOP + ROW * place, stock_known) for place, line in enumerate(lines))
    plural = "" if horizon.sessions == 1 else "s"
    title = f"Supplies for {horizon.sessions} session{plural} from {horizon.start}"
    assumed = (
        f"no-shows {100 * horizon.no_show:g} of 100 · walk-ins {horizon.walk_ins:g} a session · "
        f"to last in {100 * plan.service:g} of 100 horizons like this"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" '
        f'width="{WIDTH}" height="{height:.0f}" role="img" font-family="{escape(FONT)}" '
        f'font-size="14"><title>{escape(title)}</title>'
        f'<rect width="100%" height="100%" fill="{PAPER}"/>'
        f'<text x="24" y="34" font-size="18" font-weight="600" fill="{INK}">{escape(title)}</text>'
        f'<text x="24" y="56" fill="{QUIET}">{escape(assumed)}</text>'
        f'<text x="{WIDTH - 24}" y="{TOP - 8:.0f}" text-anchor="end" fill="{QUIET}">order</text>'
        f"{rows}{_key(TOP + ROW * len(lines) + 30, stock_known, spare_words(plan))}</svg>"
    )


def _row(line: OrderLine, y: float, stock_known: bool) -> str:
    middle = y + 26
    supply = Supply(
        item=line.kind.item,
        count=0,
        gauge=line.kind.gauge,
        length_mm=line.kind.length_mm,
        volume_ml=line.kind.volume_ml,
    )
    boxes = f"{line.boxes} x {line.box}" if line.box > 1 and line.boxes else ""
    return (
        f'<path d="M24 {y:.1f}H{WIDTH - 24}" stroke="{RULE}"/>'
        f'<text x="24" y="{y + 22:.1f}" fill="{INK}" font-weight="600">'
        f"{escape(supply_words(supply))}</text>"
        + _needle(line.kind.length_mm, y + 40)
        + _scale(line, middle, stock_known)
        + f'<text x="{WIDTH - 24}" y="{middle + 2:.1f}" text-anchor="end" font-size="18" '
        f'font-weight="600" fill="{INK}">{line.order}</text>'
        f'<text x="{WIDTH - 24}" y="{middle + 21:.1f}" text-anchor="end" font-size="13" '
        f'fill="{QUIET}">{boxes}</text>'
    )


def _needle(length_mm: int | None, y: float) -> str:
    if length_mm is None:
        return ""
    end = 40 + length_mm * PX_PER_MM
    return (
        f'<path d="M24 {y - 6:.1f}h9l7 4v4l-7 4h-9Z" fill="{INK}"/>'
        f'<path d="M40 {y - 1.6:.1f}H{end - 5:.1f}L{end:.1f} {y + 1.6:.1f}H40Z" fill="#8b95a1" '
        f'stroke="{QUIET}" stroke-width=".8"/>'
    )


def _scale(line: OrderLine, y: float, stock_known: bool) -> str:
    """The 5th to 95th of use as a bar with the mean, stock as a diamond, both on one scale."""
    low, high = line.demand.quantile(0.05), line.demand.quantile(0.95)
    most = max(line.demand.quantile(0.999), line.in_stock, 1) * 1.06

    def at(count: float) -> float:
        return X0 + (X1 - X0) * count / most

    mean = line.demand.mean
    stock = f"stock {line.in_stock}{_lost(line)}" if stock_known else "stock not known"
    return (
        f'<path d="M{X0} {y:.1f}H{X1}" stroke="{QUIET}" stroke-width="1"/>'
        f'<path d="M{X0} {y - 4:.1f}v8" stroke="{QUIET}"/>'
        f'<rect x="{at(low):.1f}" y="{y - 9:.1f}" width="{max(at(high) - at(low), 3):.1f}" '
        f'height="18" fill="#c3cad3" stroke="{INK}" stroke-width="1"/>'
        f'<path d="M{at(mean):.1f} {y - 12:.1f}v24" stroke="{INK}" stroke-width="2.4"/>'
        + (_diamond(at(line.in_stock), y, 9) if stock_known else "")
        + f'<text x="{X0}" y="{y + 28:.1f}" font-size="13" fill="{QUIET}">use {mean:.0f} '
        f"({low} to {high}) · {stock}</text>"
    )


def _diamond(x: float, y: float, half: int) -> str:
    return (
        f'<path transform="translate({x:.1f} {y:.1f})" d="M0 -{half}L{half - 2} 0L0 {half}'
        f'L-{half - 2} 0Z" fill="#ffffff" stroke="{IODINE}" stroke-width="2.4"/>'
    )


def _lost(line: OrderLine) -> str:
    lost = line.lost + line.expired
    return f" · lost {lost:.0f}" if lost >= 0.5 else ""


def _key(y: float, stock_known: bool, spare: str) -> str:
    stock = "in stock · lost: expires unused or has expired · " if stock_known else ""
    x = 280 if stock_known else 250
    return (
        f'<rect x="24" y="{y - 13:.1f}" width="26" height="14" fill="#c3cad3" stroke="{INK}"/>'
        f'<path d="M37 {y - 16:.1f}v20" stroke="{INK}" stroke-width="2.4"/>'
        f'<text x="58" y="{y:.1f}" font-size="13" fill="{QUIET}">'
        "use: mean, and 5 to 95 of 100</text>"
        + (_diamond(266, y - 6, 8) if stock_known else "")
        + f'<text x="{x}" y="{y:.1f}" font-size="13" fill="{QUIET}">{stock}'
        "every row has its own scale</text>"
        f'<text x="24" y="{y + 24:.1f}" font-size="13" fill="{QUIET}">{escape(spare)}</text>'
    )
