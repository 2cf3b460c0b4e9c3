"""Draws what gives a dose: syringe with needle to scale, oral applicator, nasal sprayer.

The SVG's unit is the millimetre, on paper as on the ruler drawn below the needle. The needle's
length and thickness and the ruler are true; syringe and hub are only a picture. The hub's colour
never stands without its word.
"""

from __future__ import annotations

from html import escape

from traywise.paper.hub_colours import hub_colours, hub_words
from traywise.paper.wording import needle_words
from traywise.tray.plan import Needle

HEIGHT_MM = 13.0
NEEDLE_FROM_MM = 32.0  # where the needle leaves the hub: 0 of the ruler
RULER_MM = 40  # longer only for a longer needle
AXIS_MM = 4.6
INK, QUIET, LINE = "#17202b", "#4c5765", "#4c5765"
SCREEN_FONT = "'Source Sans 3','Noto Sans','Segoe UI',Roboto,Arial,sans-serif"
_PICTURE = f'stroke="{LINE}" fill="#ffffff" stroke-width=".35" stroke-linejoin="round"'


def needle_svg(
    needle: Needle | None,
    syringe: str,
    *,
    route: str = "IM",
    missing: str | None = None,
    font_family: str = SCREEN_FONT,
) -> str:
    """What lies in the hand for one place, 76 mm wide.

    needle   None by mouth or nose, or when none is chosen yet
    syringe  words of the tray: "1 mL syringe", "oral applicator", ...
    route    IM, SC, ID: a syringe; PO: an applicator; NAS: a sprayer
    missing  what to get, when the right needle is not at hand
    """
    words = describe_needle(needle, syringe, route=route, missing=missing)
    if needle is not None:
        drawn = (
            _syringe(ready_filled="filled" in syringe) + _needle(needle) + _ruler(_ruler_mm(needle))
        )
    elif route == "PO":
        drawn = _applicator()
    elif route == "NAS":
        drawn = _sprayer()
    else:
        drawn = _syringe(ready_filled="filled" in syringe) + _no_needle()
    width = needle_width_mm(needle)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {HEIGHT_MM:g}" '
        f'width="{width:g}mm" height="{HEIGHT_MM:g}mm" role="img" '
        f'font-family="{escape(font_family)}">'
        f"<title>{escape(words)}</title>{drawn}{_caption(needle, route)}</svg>"
    )


def describe_needle(
    needle: Needle | None, syringe: str, *, route: str = "IM", missing: str | None = None
) -> str:
    """The drawing in words.

    >>> describe_needle(Needle(gauge=25, length_mm=16), "1 mL syringe")
    '25 G × 16 mm (5/8 in), orange hub, 1 mL syringe'
    >>> describe_needle(None, "oral applicator", route="PO")
    'no needle, oral applicator'
    """
    if needle is not None:
        parts = [needle_words(needle), hub_words(needle.gauge), syringe]
    elif route in ("PO", "NAS"):
        parts = ["no needle", syringe]
    else:
        parts = ["needle not chosen", syringe]
    if missing:
        parts.append(f"get: {missing}")
    return ", ".join(part for part in parts if part)


def _syringe(*, ready_filled: bool) -> str:
    y = AXIS_MM
    marks = "".join(
        f'<path d="M{8.6 + 1.7 * i:g} {y - 2.3:g} v{1.6 if i % 2 else 2.4:g}"/>' for i in range(9)
    )
    # A ready-filled syringe shows its label; one to be filled shows its scale.
    inside = (
        f'<rect x="10" y="{y - 1.4:g}" width="11" height="2.8" fill="#e3ded0" stroke="none"/>'
        if ready_filled
        else marks
    )
    return (
        f"<g {_PICTURE}>"
        f'<rect x=".3" y="{y - 2.2:g}" width="1.2" height="4.4" rx=".4"/>'
        f'<rect x="1.5" y="{y - 0.8:g}" width="6" height="1.6"/>'
        f'<rect x="6.2" y="{y - 3.3:g}" width="1" height="6.6" rx=".3"/>'
        f'<rect x="7.2" y="{y - 2.3:g}" width="17" height="4.6" rx=".5"/>{inside}'
        f'<rect x="22.2" y="{y - 2.1:g}" width=".9" height="4.2" fill="{LINE}" stroke="none"/>'
        f'<path d="M24.2 {y - 1.2:g} h1.4 v2.4 h-1.4 Z"/></g>'
    )


def _needle(needle: Needle) -> str:
    known = hub_colours().get(needle.gauge)
    paint = known.paint if known else "#ffffff"
    thick = known.outer_mm if known else 0.5
    y, start = AXIS_MM, NEEDLE_FROM_MM
    tip = start + needle.length_mm
    bevel = min(2.4, 3 * thick)
    return (
        f'<path d="M25.6 {y - 1.7:g} h2.6 l1.2 .5 l{start - 29.4:g} .5 v1.4 l{29.4 - start:g} .5 '
        f'l-1.2 .5 h-2.6 Z" fill="{paint}" stroke="{INK}" stroke-width=".3"/>'
        f'<path class="needle" data-length-mm="{needle.length_mm}" '
        f'd="M{start:g} {y - thick / 2:g} H{tip - bevel:g} L{tip:g} {y + thick / 2:g} '
        f'H{start:g} Z" fill="#66707c"/>'
        f'<path d="M{tip:g} {y + 0.9:g} V{HEIGHT_MM - 4.4:g}" stroke="{QUIET}" '
        'stroke-width=".2" stroke-dasharray=".6 .6"/>'
    )


def needle_width_mm(needle: Needle | None) -> float:
    """Width of the drawing, so that it can be set at its true size."""
    return NEEDLE_FROM_MM + _ruler_mm(needle) + 4


def _ruler_mm(needle: Needle | None) -> int:
    """Length of the ruler: whole centimetres, as long as the needle."""
    return max(RULER_MM, -(-needle.length_mm // 10) * 10) if needle else RULER_MM


def _ruler(length_mm: int) -> str:
    y = HEIGHT_MM - 4.4
    ticks = "".join(
        f'<path d="M{NEEDLE_FROM_MM + mm:g} {y:g} v-{_tick_mm(mm):g}"/>'
        for mm in range(length_mm + 1)
    )
    numbers = "".join(
        f'<text x="{NEEDLE_FROM_MM + mm:g}" y="{y + 2.7:g}" text-anchor="middle">{mm}'
        f"{' mm' if mm == length_mm else ''}</text>"
        for mm in range(0, length_mm + 1, 10)
    )
    return (
        f'<g stroke="{QUIET}" stroke-width=".18">'
        f'<path d="M{NEEDLE_FROM_MM:g} {y:g} h{length_mm}"/>'
        f'{ticks}</g><g font-size="2.6" fill="{QUIET}">{numbers}</g>'
    )


def _tick_mm(mm: int) -> float:
    return 1.5 if mm % 10 == 0 else 1.0 if mm % 5 == 0 else 0.55


def _no_needle() -> str:
    return (
        f'<path d="M26 {AXIS_MM:g} H62" stroke="{INK}" stroke-width=".5" '
        'stroke-dasharray="1.6 1.4"/>'
        f'<text x="{NEEDLE_FROM_MM:g}" y="{HEIGHT_MM - 2.6:g}" font-size="3.2" font-weight="700" '
        f'fill="{INK}">▲ no needle chosen</text>'
    )


def _applicator() -> str:
    y = AXIS_MM
    return (
        f'<g {_PICTURE}><rect x="2" y="{y - 1.5:g}" width="5" height="3" rx=".6"/>'
        f'<path d="M7 {y - 2.4:g} h24 l5 1.4 h14 a1 1 0 0 1 0 2 h-14 l-5 1.4 h-24 Z"/>'
        f'<path d="M11 {y - 2.4:g} v4.8 M27 {y - 2.4:g} v4.8"/></g>'
    )


def _sprayer() -> str:
    y = AXIS_MM
    spray = "".join(
        f'<path d="M53 {y:g} L{60 + i % 2:g} {y + d:g}"/>'
        for i, d in enumerate((-2.6, -1.3, 0, 1.3, 2.6))
    )
    return (
        f'<g {_PICTURE}><rect x=".3" y="{y - 2.2:g}" width="1.2" height="4.4" rx=".4"/>'
        f'<rect x="1.5" y="{y - 0.8:g}" width="9" height="1.6"/>'
        f'<rect x="10.5" y="{y - 3.3:g}" width="1" height="6.6" rx=".3"/>'
        f'<rect x="11.5" y="{y - 2.1:g}" width="22" height="4.2" rx=".5"/>'
        f'<path d="M33.5 {y - 1:g} h6 l9 -1.3 q4 1.2 4 2.3 q0 1.1 -4 2.3 l-9 -1.3 h-6 Z"/>'
        f'<rect x="20" y="{y - 2.9:g}" width="1.4" height="5.8" fill="#e3ded0"/></g>'
        f'<g stroke="{QUIET}" stroke-width=".3" stroke-dasharray=".7 .8">{spray}</g>'
    )


def _caption(needle: Needle | None, route: str) -> str:
    """The word that goes with the picture, under the syringe and left of the ruler."""
    if needle is not None:
        words = hub_words(needle.gauge)
    elif route in ("PO", "NAS"):
        words = "no needle"
    else:
        return ""
    return (
        f'<text x=".3" y="{HEIGHT_MM - 2.2:g}" font-size="3" fill="{QUIET}">{escape(words)}</text>'
    )
