"""The day's board as plain text: one sentence, a line a child, what to fetch, mix and watch."""

from __future__ import annotations

from collections.abc import Sequence

from traywise.paper.columns import WIDTH, Page, pad
from traywise.paper.day_board import BoardRow, DayBoard, NotServed, Watch, dose_tail
from traywise.paper.text_frame import NO_BREAK, finish, kept
from traywise.paper.wording import day, day_with_weekday, plain, supply_words


def board_text(board: DayBoard, *, width: int = WIDTH) -> str:
    """The whole board; a part with nothing in it is left out."""
    page = Page(width)
    title = f"{plain(board.title)} · {day_with_weekday(board.on)} · schedule {board.edition}"
    lines = [*page.wrap(title), *page.wrap(plain(board.answer))]
    if board.figures:
        lines += page.wrap(" · ".join(f"{plain(v)} {plain(words)}" for v, words in board.figures))
    lines.append(page.rule)
    for row in board.rows:
        lines += _child(page, row)
    for head, part in (
        ("Take from the shelf", page.table(_picks(board), indent=2)),
        ("Count out", page.table(_supplies(board), indent=2)),
        ("Mix or open, in this order", page.table(_preparations(board), indent=2)),
        ("Due and not served", _not_served(page, board.not_served)),
        ("Watch", _watch(page, board.watch)),
    ):
        lines += ["", head, *part] if part else []
    return finish(page, lines, [], board.edition)


def _child(page: Page, row: BoardRow) -> list[str]:
    note = f", {plain(row.note)}" if row.note else ""
    status = f"{row.shape}{NO_BREAK}{plain(row.word)}{note}"
    about = f" ({plain(row.about)})" if row.about else ""
    doses = [kept(f"{plain(dose.name)} {dose_tail(dose)}") for dose in row.doses]
    return [
        *page.hanging(f"{pad(plain(row.time), 6)} ", f"{plain(row.name)}{about}  {status}"),
        *page.hanging(" " * 9, " · ".join(doses) or "nothing today"),
    ]


def _picks(board: DayBoard) -> list[tuple[str, ...]]:
    return [
        (
            *(str(pick.count), plain(pick.unit), plain(pick.what), plain(pick.lot)),
            *(day(pick.expires), plain(pick.note)),
        )
        for pick in board.picks
    ]


def _supplies(board: DayBoard) -> list[tuple[str, ...]]:
    return [(str(supply.count), plain(supply_words(supply))) for supply in board.supplies]


def _preparations(board: DayBoard) -> list[tuple[str, ...]]:
    return [
        (plain(step.time), plain(step.what), plain(step.use_by), plain(step.note))
        for step in board.preparations
    ]


def _not_served(page: Page, missed: Sequence[NotServed]) -> list[str]:
    lines = []
    for one in missed:
        who = f"{plain(one.name)}, {', '.join(one.groups)}"
        lines += page.hanging("  ", f"{who}: {plain(one.why)} {plain(one.change)}".strip())
    return lines


def _watch(page: Page, items: Sequence[Watch]) -> list[str]:
    lines = []
    for item in items:
        action = f" · {plain(item.action)}" if item.action else ""
        lines += page.hanging(f"  {item.shape} ", plain(item.text) + action)
    return lines
