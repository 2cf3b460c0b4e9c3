"""Words and shapes that paper and terminal share, so that both say the same thing the same way.

Status is told by shape and word; colour may be added by the medium, never instead.
"""

from __future__ import annotations

import unicodedata
from datetime import date
from typing import NamedTuple

from traywise.rulebook.codes import site_codes
from traywise.schedule.answer import GroupForecast
from traywise.tray.plan import Needle, NotToday, Supply, Tray

CARE = (
    "Decision support, not a prescription. Check your authority's current schedule and each "
    "product's own leaflet; local law, standing orders and the licensed clinician decide."
)

ROUTES = {
    "IM": "into muscle (IM)",
    "SC": "under the skin (SC)",
    "PO": "by mouth",
    "NAS": "into the nose",
    "ID": "into the skin (ID)",
}


class Status(NamedTuple):
    """A shape that survives a grey copy, and the word beside it."""

    shape: str
    word: str


GROUP_STATUS = {
    "due": Status("◆", "due"),
    "overdue": Status("◆", "overdue"),
    "not yet": Status("◇", "not yet"),
    "complete": Status("●", "complete"),
    "immune": Status("●", "immune"),
    "contraindicated": Status("■", "contraindicated"),
    "deferred": Status("◇", "wait"),
    "aged out": Status("■", "aged out"),
    "clinician decides": Status("▲", "decide together"),
    "not recommended": Status("■", "not recommended"),
}


def group_status(forecast: GroupForecast) -> Status:
    """Shape and word of a group's status; an unknown status shows itself.

    >>> group_status(GroupForecast(status="deferred"))
    Status(shape='◇', word='wait')
    """
    return GROUP_STATUS.get(forecast.status, Status("▲", forecast.status))


def tray_status(tray: Tray) -> Status:
    """Whether the tray may be laid: the one line that heads every sheet.

    >>> tray_status(Tray(state="after screening"))
    Status(shape='▲', word='After screening')
    """
    if tray.questions or tray.state == "after screening":
        return Status("▲", "After screening")
    if not tray.tray:
        return Status("◇", "Nothing to give today")
    if tray_gaps(tray):
        return Status("▲", "Not complete")
    return Status("◆", "Ready to lay")


def tray_status_detail(tray: Tray) -> str:
    """What the state asks of the reader, in a sentence or two."""
    return " ".join((_state_sentence(tray), *tray_gaps(tray)))


def _state_sentence(tray: Tray) -> str:
    count = len(tray.questions)
    if count:
        noun = "1 question is" if count == 1 else f"{count} questions are"
        return f"{noun} open. Ask first; an answer can change what lies on this tray."
    if tray.state == "after screening":
        return "Screening is not finished. Ask first; an answer can change what lies on this tray."
    if not tray.tray:
        return "No dose lies ready. See below why, and when to come back."
    doses = "1 dose" if len(tray.tray) == 1 else f"{len(tray.tray)} doses"
    return f"{doses}, no screening question open."


def tray_gaps(tray: Tray) -> tuple[str, ...]:
    """What the tray still lacks, so that nobody reads it as ready."""
    needles = [str(p.n) for p in tray.tray if p.needle_missing]
    lots = [str(p.n) for p in tray.tray if p.lot is None]
    gaps = []
    if needles:
        gaps.append(f"Needle not at hand for place {', '.join(needles)}.")
    if lots:
        gaps.append(f"No lot chosen for place {', '.join(lots)}.")
    return tuple(gaps)


def not_today_status(item: NotToday) -> Status:
    """Waiting with a date, or stopped without one."""
    if item.until is None:
        return Status("■", "not today")
    return Status("◇", f"wait until {item.until.isoformat()}")


def needle_words(needle: Needle) -> str:
    """Gauge and length as the trade writes them, with inches.

    >>> needle_words(Needle(gauge=23, length_mm=25)), needle_words(Needle(gauge=25, length_mm=16))
    ('23 G × 25 mm (1 in)', '25 G × 16 mm (5/8 in)')
    """
    return f"{needle.gauge} G × {needle.length_mm} mm ({inches(needle.length_mm)} in)"


def inches(length_mm: float) -> str:
    """Millimetres in inches to the nearest eighth, the trade's way of naming needles.

    >>> [inches(mm) for mm in (10, 13, 16, 25, 32, 38)]
    ['3/8', '1/2', '5/8', '1', '1 1/4', '1 1/2']
    """
    whole, eighths = divmod(round(length_mm / 25.4 * 8), 8)
    divisor = next((d for d in (4, 2, 1) if eighths and eighths % d == 0), 1)
    fraction = f"{eighths // divisor}/{8 // divisor}" if eighths else ""
    return " ".join(part for part in (str(whole) if whole else "", fraction) if part) or "0"


def volume_words(volume_ml: float) -> str:
    """Millilitres with a leading and no trailing zero (safe writing of doses).

    >>> volume_words(0.5), volume_words(1.0), volume_words(0.25)
    ('0.5 mL', '1 mL', '0.25 mL')
    """
    return f"{volume_ml:g} mL"


def supply_words(supply: Supply) -> str:
    """One line of "lay ready" without the count.

    >>> supply_words(Supply(item="needle", count=2, gauge=23, length_mm=25))
    'needle 23 G × 25 mm (1 in)'
    >>> supply_words(Supply(item="wipe", count=2, expires=date(2026, 12, 31)))
    'wipe, expires 2026-12-31'
    """
    parts = [supply.item]
    if supply.volume_ml is not None:
        parts.append(volume_words(supply.volume_ml))
    if supply.gauge is not None and supply.length_mm is not None:
        parts.append(needle_words(Needle(gauge=supply.gauge, length_mm=supply.length_mm)))
    elif supply.gauge is not None:
        parts.append(f"{supply.gauge} G")
    words = " ".join(parts)
    return words if supply.expires is None else f"{words}, expires {day(supply.expires)}"


def dose_words(dose_numbers: dict[str, int], groups: tuple[str, ...]) -> str:
    """Which dose of which group this place is.

    >>> dose_words({"DTaP": 2, "HepB": 3}, ("DTaP", "HepB"))
    'DTaP dose 2, HepB dose 3'
    >>> dose_words({"DTaP": 2, "IPV": 2}, ("DTaP", "IPV"))
    'dose 2 of DTaP, IPV'
    """
    numbers = {dose_numbers.get(group) for group in groups}
    if len(numbers) == 1 and (number := next(iter(numbers))) is not None:
        return f"dose {number} of {', '.join(groups)}"
    # A globulin has no dose number; its group stands alone.
    return ", ".join(
        f"{group} dose {dose_numbers[group]}" if group in dose_numbers else group
        for group in groups
    )


def site_words(site: str | None, route: str) -> str:
    """Where on the child, from the code set; an unknown code shows itself.

    >>> site_words("LT", "IM"), site_words(None, "PO"), site_words("XX", "IM")
    ('left thigh', 'by mouth', 'XX')
    """
    if site is None:
        return ROUTES.get(route, route)
    known = site_codes().get(site)
    return known.name if known else site


def day(value: date | None) -> str:
    """ISO date, or a dash for none."""
    return value.isoformat() if value else "–"


def day_with_weekday(value: date) -> str:
    """The date with its English weekday, whatever the machine's locale.

    >>> day_with_weekday(date(2026, 11, 24))
    'Tue 2026-11-24'
    """
    names = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    return f"{names[value.weekday()]} {value.isoformat()}"


def plain(text: str) -> str:
    """Text without line breaks, control characters or direction overrides.

    Names come from files: an escape sequence must not reach a terminal, and an override must
    not make one name look like another.

    >>> plain("Anna\\x1b[31m  Lind\\u202eberg")
    'Anna�[31m Lind�berg'
    """
    return " ".join(
        "".join(
            " " if c.isspace() else "�" if _is_unsafe(c) else c
            for c in unicodedata.normalize("NFC", text)
        ).split()
    )


def _is_unsafe(character: str) -> bool:
    category = unicodedata.category(character)
    # Joiners (U+200C, U+200D) are letters' business in Persian and Indic names: kept.
    return category in ("Cc", "Cs", "Co", "Zl", "Zp") or (
        category == "Cf" and character not in "\u200c\u200d"
    )
