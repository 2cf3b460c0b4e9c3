"""Every fault code of this room: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

_AGAIN = "Plan again; if it returns, report it with the roster."

FAULTS: dict[str, tuple[str, str]] = {
    # the request
    "session.E001": ("The session ends before it begins.", "Correct the hours."),
    "session.E002": ("The number of vaccinators is below zero.", "Write 0 or more."),
    "session.E003": ("A child stands twice on the roster.", "Keep one line."),
    "session.E004": ("A child was assessed for another day.", "Assess for the session's day."),
    "session.E005": ("An appointment lies outside the session.", "Correct one of them."),
    # the forecast of needles
    "needles.E201": ("The file of visits is no JSON.", "Give what tray or session printed."),
    "needles.E202": ("An entry is no tray.", "Give what tray or session printed."),
    "needles.E203": ("The file holds no visit.", "Give trays, a session or lines of use."),
    "needles.E204": ("A line names no visit.", "Write which visit uses this."),
    # lots and units
    "session.E010": ("The lot is not on the shelf.", "Correct the lot number."),
    "session.E011": ("Nothing lies in that unit.", "Correct the unit."),
    # what the check of a plan may find
    "session.E101": ("The plan's children are not the roster's.", _AGAIN),
    "session.E102": ("The visits are out of order.", _AGAIN),
    "session.E103": ("An appointment was moved.", _AGAIN),
    "session.E110": ("A lot is not on the shelf.", _AGAIN),
    "session.E111": ("A lot gives more than it holds.", _AGAIN),
    "session.E120": ("The vaccinators' time is not enough.", _AGAIN),
    "session.E130": ("A group is given twice.", _AGAIN),
    "session.E131": ("Two groups that exclude each other are given.", _AGAIN),
    "session.E132": ("A due group is neither given nor explained.", _AGAIN),
    "session.E140": ("A lot is expired.", _AGAIN),
    "session.E141": ("A lot is held.", _AGAIN),
    "session.E142": ("Funding sources are mixed.", _AGAIN),
    "session.E143": ("A lot holds another product.", _AGAIN),
    "session.E144": ("A vial is past its time.", _AGAIN),
    "session.E150": ("A child is outside the product's ages.", _AGAIN),
    "session.E151": ("A narrower age limit is passed.", _AGAIN),
    "session.E152": ("A product is not used under the edition.", _AGAIN),
    "session.E153": ("Screening bars the product.", _AGAIN),
    "session.E154": ("A product for special cases is given without the case.", _AGAIN),
    "session.E160": ("A product's groups are not all accounted for.", _AGAIN),
    "session.E161": ("A group is not due.", _AGAIN),
    "session.E162": ("A dose would not count yet.", _AGAIN),
    "session.E163": ("The schedule names other products.", _AGAIN),
    "session.E164": ("The product is not for that dose number.", _AGAIN),
    "session.E165": ("A product line is left that must be kept.", _AGAIN),
    "session.E166": ("An extra dose is not allowed.", _AGAIN),
    "session.E170": ("A vial is not ready or past its time for a child.", _AGAIN),
    "session.E171": ("A step names no lot of the shelf.", _AGAIN),
    "session.E172": ("A mixed or opened vial is kept too long.", _AGAIN),
    "session.E173": ("A vial gives more doses than it may.", _AGAIN),
    "session.E174": ("Doses and steps do not agree.", _AGAIN),
    "session.E175": ("A step names a child without a visit.", _AGAIN),
}
