"""The shelf as text: what to take out, what to use first and for whom, what is open, doses."""

from __future__ import annotations

from collections.abc import Iterator

from traywise.paper.columns import WIDTH, Page, fits
from traywise.paper.wording import day, day_with_weekday, plain
from traywise.session.shelf_report import ShelfReport
from traywise.session.use_first import CouldUse
from traywise.shelf.lot import Lot
from traywise.shelf.overview import EMPTY, EXPIRED, HELD, LotState

CARE = (
    "Who is due is by the schedule; screen each child and read the leaflet before a dose is "
    "given. Whether stock of one funding source may be lent is your programme's to say."
)
_SHOWN = 8  # children named at a lot; the JSON names all


def shelf_text(report: ShelfReport, name: str, *, width: int = WIDTH) -> str:
    """The whole shelf; ``name`` is that of its file."""
    page = Page(width)
    lines = page.run_on(f"Shelf {plain(name)} on {day_with_weekday(report.on)}")
    lines += [*page.run_on(_answer(report)), page.rule]
    for head, rows in (
        ("Take out, not to be used", _taken_out(report)),
        ("Vials that are open", _opened(report)),
    ):
        if rows:
            lines += [head, *page.table(rows, indent=2), ""]
    lines += _use_first(page, report)
    lines += _doses(page, report) if report.states else []
    if report.faults:
        aside = _count(len(report.set_aside), "line")
        lines += ["", f"Faults of the file ({aside} set aside, not counted above)"]
        for fault in report.faults:
            text = plain(f"{fault.text} ({fault.code}, {fault.at})")
            lines += page.hanging("  ■ " if fault.is_error else "  ▲ ", text)
    return "\n".join([*lines, page.rule, *page.wrap(CARE)])


def _answer(report: ShelfReport) -> str:
    if not report.states:
        unread = any(fault.is_error for fault in report.faults)
        return "The shelf could not be read." if unread else "No lot stands on this shelf."
    usable = sum(one.usable for one in report.doses)
    soon = [one for one in report.states if one.soon]
    answer = f"{_count(len(report.states), 'lot')}, {_count(usable, 'dose')} may be used; "
    if not soon:
        return f"{answer}nothing ends by {report.until} ({_count(report.within_days, 'day')})."
    doses = _count(sum(one.lot.doses for one in soon), "dose")
    verb = "ends" if len(soon) == 1 else "end"
    return (
        f"{answer}{_count(len(soon), 'lot')} with {doses} {verb} by {report.until} "
        f"({_count(report.within_days, 'day')})."
    )


def _taken_out(report: ShelfReport) -> list[tuple[str, ...]]:
    gone = [one for one in report.states if one.state in (EXPIRED, HELD, EMPTY)]
    return [(f"■ {one.lot.doses}", *_names(one.lot), plain(one.why)) for one in gone]


def _opened(report: ShelfReport) -> list[tuple[str, ...]]:
    rows = []
    for one in report.states:
        if one.lot.opened and not one.why and one.ends_at is not None:
            opened = f", opened {one.lot.opened_at:%Y-%m-%d %H:%M}" if one.lot.opened_at else ""
            until = f"throw away {one.ends_at:%Y-%m-%d %H:%M}{opened}"
            rows.append((f"▲ {one.lot.doses}", *_names(one.lot), until))
    return rows


def _use_first(page: Page, report: ShelfReport) -> list[str]:
    soon = [one for one in report.states if one.soon]
    if not soon:
        return []
    lines = [f"Use first, ends by {report.until}"]
    for one in soon:
        days = 0 if one.last_day is None else (one.last_day - report.on).days
        left = "last day today" if days == 0 else f"{_count(days, 'day')} left"
        facts = (f"{_count(one.lot.doses, 'dose')}", *filter(None, _names(one.lot)))
        lines += page.hanging(f"  ▲ {day(one.last_day)}  ", " · ".join((*facts, left)))
        if report.children is not None:
            lines += page.hanging(" " * 16, _for_whom(report, one))
    return [*lines, ""]


def _for_whom(report: ShelfReport, one: LotState) -> str:
    who = report.who(one)
    left = report.left_over(one) or 0
    over = f" At least {_count(left, 'dose')} will be left over." if left else ""
    if not who:
        return f"No child is due a dose of it by then.{over}"
    more = f" and {len(who) - _SHOWN} more" if len(who) > _SHOWN else ""
    names = ", ".join(_child(report, child) for child in who[:_SHOWN])
    count = f"{len(who)} {'child is' if len(who) == 1 else 'children are'}"
    return f"{count} due by then: {names}{more}.{over}"


def _child(report: ShelfReport, child: CouldUse) -> str:
    when = "now" if child.day == report.on else f"from {child.day}"
    funding = f", {child.funding}" if child.funding else ""
    return f"{plain(child.name or child.id)} ({', '.join(child.groups)} {when}{funding})"


def _doses(page: Page, report: ShelfReport) -> list[str]:
    """Figures in columns; on a page too narrow for them in words."""
    head = ("Doses at hand", "usable", "end soon", "not to be used", "funding")
    rows = [
        (plain(one.name), str(one.usable), _or_blank(one.soon), _or_blank(one.lost), one.funding)
        for one in report.doses
    ]
    if fits([head, *rows], width=page.width):
        return page.table([head, *rows])
    lines = [head[0]]
    for name, *figures, funding in rows:
        told = [f"{n} {word}" for n, word in zip(figures, head[1:4], strict=True) if n]
        lines += page.hanging("  ", f"{name}{f', {funding}' if funding else ''}: {', '.join(told)}")
    return lines


def _names(lot: Lot) -> Iterator[str]:
    yield plain(lot.product.key if lot.product else f"CVX {lot.cvx}")
    yield f"lot {plain(lot.lot)}"
    yield plain(lot.unit)
    yield lot.funding


def _or_blank(count: int) -> str:
    return str(count) if count else ""


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
