"""Values that are written well but can hardly be true: one small function a check.

Each check yields ``(path inside the child, fault code, text)``. An impossible value
is an error and sets the child aside; a doubtful one is a warning and is used as it
stands. The limits stand in ``editions/tables/plausibility.toml``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from functools import cache

import msgspec

from traywise.calendar import Span, age_on, format_age, reached
from traywise.record.child import Child, DoseGiven
from traywise.record.nearest import nearest
from traywise.rulebook.codes import cvx_codes
from traywise.rulebook.conditions import conditions
from traywise.rulebook.tables import load_table

Found = tuple[tuple[str | int, ...], str, str]
Check = Callable[[Child, date, date], Iterator[Found]]


class Slip(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A unit that may have been used instead of ours; ``factor`` turns it into ours."""

    unit: str
    factor: float


class Limit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The lowest and highest value of a field that is believed, for an age where one is given."""

    key: str
    field: str
    kind: str  # impossible, doubtful
    low: float
    high: float
    slips: tuple[Slip, ...]
    age_from: Span | None = None
    age_before: Span | None = None
    source: str


_UNITS = {
    "gestation_weeks": "completed weeks",
    "birth_weight_g": "grams",
    "weight_kg": "kilograms",
    "height_cm": "centimetres",
    "volume_ml": "millilitres",
}
_IMPOSSIBLE = {
    "gestation_weeks": "record.E043",
    "weight_kg": "record.E044",
    "birth_weight_g": "record.E045",
    "height_cm": "record.E046",
}
_DOUBTFUL = {"weight_kg": "record.W013", "volume_ml": "record.W017"}


@cache
def limits() -> dict[str, tuple[Limit, ...]]:
    """All limits by field."""
    found: dict[str, tuple[Limit, ...]] = {}
    for row in load_table("plausibility", Limit):
        found[row.field] = (*found.get(row.field, ()), row)
    return found


def check_child(child: Child, *, day: date, today: date) -> Iterator[Found]:
    """Everything implausible about a child.

    day    the day the answer is for
    today  the clinic's day: nothing given can lie after both
    """
    for check in CHECKS:
        yield from check(child, day, today)


def check_born(child: Child, day: date, today: date) -> Iterator[Found]:
    """Nobody is answered for a day before birth."""
    if child.born > day:
        text = f"Born on {child.born}, after the day of the answer, {day}. Correct one of the two."
        yield ("born",), "record.E040", text


def check_age(child: Child, day: date, today: date) -> Iterator[Found]:
    """A person beyond the ages of a children's schedule."""
    if child.born > day:
        return
    (limit,) = limits()["age_years"]
    age = age_on(child.born, day)
    if age.years > limit.high:
        text = (
            f"{format_age(age)} old on {day}: the schedules here end at {limit.high:g} years. "
            "Check the date of birth."
        )
        yield ("born",), "record.W014", text


def check_doses_after_birth(child: Child, day: date, today: date) -> Iterator[Found]:
    """No dose before birth."""
    for number, dose in enumerate(child.doses):
        if dose.on < child.born:
            text = (
                f"Given on {dose.on}, before birth on {child.born}. Correct the date; "
                "a dose that the mother received does not belong here."
            )
            yield ("doses", number, "on"), "record.E041", text


def check_doses_not_ahead(child: Child, day: date, today: date) -> Iterator[Found]:
    """A dose ahead of today is an error; one after the day asked for is only not counted yet."""
    for number, dose in enumerate(child.doses):
        path = ("doses", number, "on")
        if dose.on > max(day, today):
            text = f"Given on {dose.on}, which lies ahead. Enter a dose only once it is given."
            yield path, "record.E042", text
        elif dose.on > day:
            text = f"Given on {dose.on}, after the day of the answer, {day}. Check that day."
            yield path, "record.W012", text


def check_other_dates(child: Child, day: date, today: date) -> Iterator[Found]:
    """Weighing and antibody products lie between birth and now."""
    entries: list[tuple[tuple[str | int, ...], date]] = [
        (("products", number, "on"), product.on) for number, product in enumerate(child.products)
    ]
    if child.weighed_on is not None:
        entries.append((("weighed_on",), child.weighed_on))
    for path, on in entries:
        if on < child.born:
            yield path, "record.E049", f"{on} is before birth on {child.born}. Correct the date."
        elif on > max(day, today):
            yield path, "record.E049", f"{on} lies ahead. Correct the date."


def check_conditions(child: Child, day: date, today: date) -> Iterator[Found]:
    """Conditions end after they begin, and the rulebook knows them."""
    for number, condition in enumerate(child.conditions):
        since, until = condition.since, condition.until
        if since is not None and until is not None and until < since:
            text = f"Ends on {until}, before it begins on {since}. Correct one of the two."
            yield ("conditions", number, "until"), "record.E048", text
        if condition.key not in conditions():
            near = nearest(condition.key.casefold(), conditions())
            hint = f'Did you mean "{near}"?' if near else "Weigh it yourself."
            text = f'No rule looks at "{condition.key}". {hint}'
            yield ("conditions", number), "record.W003", text


def check_measures(child: Child, day: date, today: date) -> Iterator[Found]:
    """Weight, height, gestation and birth weight within their limits."""
    for field in ("gestation_weeks", "birth_weight_g", "weight_kg", "height_cm"):
        value = getattr(child, field)
        if value is not None:
            measured = child.weighed_on if field == "weight_kg" else None
            for code, text in doubt(field, value, child.born, measured or day):
                yield (field,), code, text


def check_volumes(child: Child, day: date, today: date) -> Iterator[Found]:
    """Volumes of doses given."""
    for number, dose in enumerate(child.doses):
        if dose.volume_ml is not None:
            for code, text in doubt("volume_ml", dose.volume_ml, child.born, dose.on):
                yield ("doses", number, "volume_ml"), code, text


def doubt(field: str, value: float, born: date, measured: date) -> Iterator[tuple[str, str]]:
    """Fault code and text when a value lies outside the first limit that holds at that age."""
    for limit in limits().get(field, ()):
        if limit.age_from and not reached(born, limit.age_from, measured):
            continue
        if limit.age_before and reached(born, limit.age_before, measured):
            continue
        if limit.low <= value <= limit.high:
            continue
        unit = _UNITS[field]
        text = f"{value:g} {unit} lies outside {limit.low:g} to {limit.high:g}"
        if limit.age_from or limit.age_before:
            text += f" at the age of {format_age(age_on(born, max(born, measured)))}"
        text += f". {guess_slip(limit, value, unit)}"
        yield (_IMPOSSIBLE if limit.kind == "impossible" else _DOUBTFUL)[field], text
        return


def guess_slip(limit: Limit, value: float, unit: str) -> str:
    """What the value would be if another unit had been used, or a plain request to check."""
    for slip in limit.slips:
        inside = value * slip.factor
        if limit.low <= inside <= limit.high:
            return f"If {slip.unit} were meant, write {inside:.4g} ({unit})."
    return f"Check it; {unit} are expected."


def check_same_day(child: Child, day: date, today: date) -> Iterator[Found]:
    """The same dose entered twice, or two codes for what may be one dose."""
    by_day: dict[date, list[DoseGiven]] = {}
    for number, dose in enumerate(child.doses):
        for earlier in by_day.setdefault(dose.on, []):
            both = set(cvx_codes()[dose.cvx].antigens) & set(cvx_codes()[earlier.cvx].antigens)
            path = ("doses", number)
            if dose.cvx == earlier.cvx:
                text = f"{dose.cvx} on {dose.on} stands twice. Remove one if it was one dose."
                yield path, "record.W010", text
            elif both:
                text = (
                    f"{earlier.cvx} and {dose.cvx} hold the same antigen and were both given on "
                    f"{dose.on}. If it was one dose, keep the code that fits."
                )
                yield path, "record.W011", text
        by_day[dose.on].append(dose)


def check_products_given(child: Child, day: date, today: date) -> Iterator[Found]:
    """Codes that stand for no vaccine, and doses that had expired when they were given."""
    for number, dose in enumerate(child.doses):
        entry = cvx_codes()[dose.cvx]
        if entry.status == "never active":
            text = f"{dose.cvx} ({entry.name}) was never in use. Check the code."
            yield ("doses", number, "cvx"), "record.W018", text
        elif not entry.antigens:
            text = (
                f"{dose.cvx} ({entry.name}) is no vaccine and counts in no group. "
                'An antibody product belongs under "products".'
            )
            yield ("doses", number, "cvx"), "record.W015", text
        if dose.expires is not None and dose.expires < dose.on:
            text = f"Expired on {dose.expires}, given on {dose.on}. Check both dates."
            yield ("doses", number, "expires"), "record.W016", text


CHECKS: tuple[Check, ...] = (
    check_born,
    check_age,
    check_doses_after_birth,
    check_doses_not_ahead,
    check_other_dates,
    check_conditions,
    check_measures,
    check_volumes,
    check_same_day,
    check_products_given,
)
