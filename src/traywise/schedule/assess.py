"""The whole answer for one child: numbers in, logic, words out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import reduce
from operator import or_

from traywise.calendar import Span, add, day_number, to_date
from traywise.errors import Fault
from traywise.record.child import Child, Condition, DoseGiven
from traywise.rulebook.antibody_products import antibody_products
from traywise.rulebook.conditions import with_implied
from traywise.rulebook.tables import is_from_memory
from traywise.schedule import layout as c
from traywise.schedule.answer import Answer, DoseJudged, DoseVerdict, GroupForecast
from traywise.schedule.arrays import Case
from traywise.schedule.compile import Compiled, compiled
from traywise.schedule.conditions import lists_of
from traywise.schedule.event_texts import EventTexts, Told
from traywise.schedule.explain import explain_chain, explain_forecast, explain_verdict
from traywise.schedule.forecast import forecast_group
from traywise.schedule.judge import judge_group
from traywise.schedule.moved import moved_by
from traywise.schedule.row_numbers import SEXES

STATUS_OF = {
    c.ST_DUE: "due",
    c.ST_OVERDUE: "overdue",
    c.ST_NOT_YET: "not yet",
    c.ST_COMPLETE: "complete",
    c.ST_IMMUNE: "immune",
    c.ST_DEFERRED: "deferred",
    c.ST_AGED_OUT: "aged out",
    c.ST_CLINICIAN: "clinician decides",
    c.ST_NOT_RECOMMENDED: "not recommended",
}


def assess(child: Child, edition: str, on: date, *, why: bool = False) -> Answer:
    """Judge the history of a child and say what comes next in every group on a day.

    on   the day to answer for; doses after it are left out and named as a warning
    why  also give the chain of rows and dates behind every answer
    """
    table = compiled(edition)
    order = _in_order(child, on)
    doses = _dose_numbers(order, table)
    antibodies = _antibody_numbers(child)
    dated = dated_conditions(child, on, table)
    events = _event_numbers(dated, table)
    numbers = _child_numbers(child, on, table)
    numbers[c.K_DOSES] = len(order)
    numbers[c.K_GIVEN] = reduce(or_, doses[c.D_PRODUCTS :: c.DOSE_WIDTH], 0)
    numbers[c.K_ANTIBODIES] = len(antibodies) // 2
    numbers[c.K_EVENTS] = len(dated)
    rules = table.table()
    numbers[c.K_LISTS] = lists_of(numbers[c.K_FLAGS], len(dated), rules)
    live = [place for place, family in enumerate(doses[c.D_LIVE :: c.DOSE_WIDTH]) if family]
    judged_by = [table.of_cvx.get(dose.cvx, (0, 0, 0))[1] for dose in order]
    verdicts_of: list[dict[str, DoseVerdict]] = [{} for _ in order]
    groups: dict[str, GroupForecast] = {}
    valid = [0] * (2 * len(order))
    told = EventTexts(dated, table)
    for number, group in enumerate(table.edition.groups):
        history = [0] * c.HISTORY_WIDTH
        verdicts = [0] * (c.VERDICT_WIDTH * len(order))
        out = [0] * c.FORECAST_WIDTH
        own = [place for place, groups in enumerate(judged_by) if groups >> number & 1]
        case = Case(numbers, doses, antibodies, events, live, own, valid, history)
        judge_group(number, verdicts, rules, case)
        forecast_group(number, out, rules, case)
        for i, dose in enumerate(order):
            verdict = verdicts[i * c.VERDICT_WIDTH : (i + 1) * c.VERDICT_WIDTH]
            if verdict[c.V_STATUS] != c.NOT_OF_GROUP:
                verdicts_of[i][group.key] = explain_verdict(
                    verdict, dose, child, group, table, told.of(verdict[c.V_ROW], dose.on, case)
                )
        words = Told(
            event=told.of(out[c.F_ROW], on, case),
            kept_off=told.kept_off(number, out[c.F_DUE], case),
            moved=moved_by(out, number, rules, case),
            steps=told.steps(number) if why else (),
        )
        groups[group.key] = _forecast(
            out, child, on, group.key, order, verdicts_of, table, words, why
        )
    return Answer(
        id=child.id,
        assess_on=on,
        edition=table.edition.name,
        doses=_in_record_order(child, order, verdicts_of),
        groups=groups,
        warnings=_warnings(child, on, table),
    )


def _in_order(child: Child, on: date) -> list[DoseGiven]:
    """Doses up to the day, by day and code, so that the order of entries changes nothing."""
    return sorted(
        (dose for dose in child.doses if child.born <= dose.on <= on),
        key=lambda dose: (dose.on, dose.cvx, dose.full is False, _expired(dose), dose.lot or ""),
    )


def _expired(dose: DoseGiven) -> bool:
    return dose.expires is not None and dose.expires < dose.on


def _dose_numbers(order: list[DoseGiven], table: Compiled) -> list[int]:
    numbers: list[int] = []
    for dose in order:
        products, _, live = table.of_cvx.get(dose.cvx, (0, 0, 0))
        if dose.campaign:
            products |= c.CAMPAIGN_BIT
        flaw = c.FLAW_NONE
        if dose.full is False:
            flaw = c.FLAW_PARTIAL
        elif _expired(dose):
            flaw = c.FLAW_EXPIRED
        numbers += [day_number(dose.on), products, live, flaw]
    return numbers


def _antibody_numbers(child: Child) -> list[int]:
    numbers: list[int] = []
    for product in sorted(child.products, key=lambda item: (item.on, item.kind)):
        known = antibody_products().get(product.kind)
        if known is not None and known.months:
            numbers.append(day_number(product.on))
            numbers.append(day_number(add(product.on, Span(months=known.months))))
    return numbers


def flags_of(child: Child, on: date, table: Compiled) -> int:
    """The child's conditions as bits, those that follow from measured values included."""
    keys = set(child.conditions_on(on))
    for rule in table.edition.derived:
        value = getattr(child, rule.field)
        if value is not None and value < rule.below:
            keys.add(rule.key)
    return flags_of_keys(keys, table)


def flags_of_keys(keys: Iterable[str], table: Compiled) -> int:
    """Condition keys and all that they imply as bits; keys no row asks for are left out."""
    return sum(table.bits[key] for key in with_implied(keys) if key in table.bits)


def dated_conditions(child: Child, on: date, table: Compiled) -> list[Condition]:
    """Conditions that rows count from and that have begun, in the order of the record."""
    return [
        one
        for one in child.conditions
        if (one.since is None or one.since <= on)
        and flags_of_keys([one.key], table) & table.settings[c.S_DATED]
    ]


def _event_numbers(dated: list[Condition], table: Compiled) -> list[int]:
    numbers: list[int] = []
    for one in dated:
        first = c.NONE if one.since is None else day_number(one.since)
        last = c.NONE if one.until is None else day_number(one.until)
        numbers += [flags_of_keys([one.key], table), first, last]
    return numbers


def _child_numbers(child: Child, on: date, table: Compiled) -> list[int]:
    numbers = [0] * c.CHILD_WIDTH
    numbers[c.K_BORN] = day_number(child.born)
    numbers[c.K_SEX] = SEXES[child.sex]
    numbers[c.K_FLAGS] = flags_of(child, on, table)
    numbers[c.K_ASSESS] = day_number(on)
    return numbers


def _forecast(
    out: list[int],
    child: Child,
    on: date,
    group: str,
    order: list[DoseGiven],
    verdicts_of: list[dict[str, DoseVerdict]],
    table: Compiled,
    words: Told,
    why: bool,
) -> GroupForecast:
    row = table.row_of[out[c.F_ROW]][1] if out[c.F_ROW] != c.NONE else None
    status = STATUS_OF[out[c.F_STATUS]]

    def day(column: int) -> date | None:
        return None if out[column] == c.NONE else to_date(out[column])

    text, source = explain_forecast(out, status, child, group, row, table, words)
    return GroupForecast(
        status=status,
        next_dose=None if out[c.F_DOSE] == c.NONE else out[c.F_DOSE],
        earliest=day(c.F_EARLIEST),
        due=day(c.F_DUE),
        overdue=day(c.F_OVERDUE),
        latest=day(c.F_LATEST),
        until=day(c.F_UNTIL),
        row=row.key if row else "",
        why=text,
        source=source,
        products=row.may_serve if row else (),
        valid_doses=out[c.F_VALID],
        urgent=row is not None and row.urgent,
        unconfirmed=is_from_memory(source),
        chain=(
            explain_chain(group, order, verdicts_of, status, text, source, words.steps)
            if why
            else ()
        ),
    )


def _in_record_order(
    child: Child, order: list[DoseGiven], verdicts_of: list[dict[str, DoseVerdict]]
) -> tuple[DoseJudged, ...]:
    """Verdicts in the order of the record; doses that were left out carry none."""
    judged = {id(dose): verdicts for dose, verdicts in zip(order, verdicts_of, strict=True)}
    return tuple(
        DoseJudged(on=dose.on, cvx=dose.cvx, groups=judged.get(id(dose), {}))
        for dose in child.doses
    )


def _warnings(child: Child, on: date, table: Compiled) -> tuple[Fault, ...]:
    faults = []
    for number, dose in enumerate(child.doses):
        if dose.on > on:
            text = f"{dose.on} lies after the day of the answer ({on}); the dose was left out."
            faults.append(Fault("schedule.W001", f"doses[{number}].on", text))
        elif dose.on < child.born:
            text = f"{dose.on} lies before birth ({child.born}); the dose was left out."
            faults.append(Fault("schedule.W004", f"doses[{number}].on", text))
    if table.edition.is_out_of_date(on):
        head = table.edition.head
        text = (
            f"Edition {table.edition.name} was published {head.published}, more than a year "
            "before the day of the answer. Check the current schedule of your authority."
        )
        faults.append(Fault("schedule.W002", "edition", text))
    faults += [
        Fault("schedule.W006", f"edition {table.edition.name}", text)
        for text in table.edition.warnings
    ]
    if on < child.born:
        text = f"The day of the answer ({on}) lies before birth ({child.born})."
        faults.append(Fault("schedule.W003", "assess_on", text))
    for number, product in enumerate(child.products):
        if product.kind not in antibody_products():
            text = (
                f'"{product.kind}" is no antibody product of the rulebook; how long MMR and VAR '
                "must wait after it is unknown. Use a key of antibody-products.toml."
            )
            faults.append(Fault("schedule.W005", f"products[{number}].kind", text))
    return tuple(faults)
