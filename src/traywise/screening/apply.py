"""Puts what screening found into the schedule's answer: contraindicated or deferred groups."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from traywise.schedule.answer import Answer, GroupForecast
from traywise.screening.findings import Finding
from traywise.screening.verdicts import Screening

WAITING = ("due", "overdue", "not yet", "clinician decides")


def apply(answer: Answer, screening: Screening) -> Answer:
    """The answer with the groups that screening closes; verdicts on doses given stay as they are.

    A group becomes ``contraindicated`` (no dates then) when a contraindication has no known
    end, else ``deferred`` until the first free day; a deferral that is over before the dose
    is due changes nothing.
    """
    groups = {
        key: _retold(_screened(key, forecast, screening)) for key, forecast in answer.groups.items()
    }
    return msgspec.structs.replace(answer, groups=groups)


def _retold(forecast: GroupForecast) -> GroupForecast:
    """The chain of reasons with its last step as screening leaves it, if there is a chain."""
    if not forecast.chain or forecast.status not in ("contraindicated", "deferred"):
        return forecast
    now = f"Now {forecast.status}: {forecast.why} ({forecast.source})"
    return msgspec.structs.replace(forecast, chain=(*forecast.chain[:-1], now))


def _screened(group: str, forecast: GroupForecast, screening: Screening) -> GroupForecast:
    if forecast.status not in WAITING:
        return forecast
    blockers = screening.blockers(group)
    if not blockers:
        return forecast
    until = screening.deferred_until(group)
    chief = _chief(blockers)
    why, source = _reason(chief), chief.source
    if until is None and chief.kind == "contraindication":
        return msgspec.structs.replace(
            forecast,
            status="contraindicated",
            next_dose=forecast.next_dose,
            earliest=None,
            due=None,
            overdue=None,
            latest=None,
            why=why,
            source=source,
        )
    last = until or screening.on
    if forecast.due is not None and forecast.due > screening.on and forecast.due >= last:
        return forecast
    due = forecast.due if until is None or forecast.due is None else max(forecast.due, until)
    overdue = forecast.overdue
    if due is not None and overdue is not None:
        overdue = max(overdue, due)
    return msgspec.structs.replace(
        forecast, status="deferred", due=due, overdue=overdue, until=until, why=why, source=source
    )


def _chief(blockers: Sequence[Finding]) -> Finding:
    """The finding that decides: a contraindication without an end, else what lasts longest."""
    lasting = [f for f in blockers if f.until is None]
    against = [f for f in lasting if f.kind == "contraindication"]
    if against or lasting:
        return (against or lasting)[0]
    return max(blockers, key=lambda f: (f.until is not None, f.until))


def _reason(finding: Finding) -> str:
    until = finding.until.isoformat() if finding.until else finding.until_text
    wait = f" Wait until {until}." if finding.until else (f" {until}." if until else "")
    return f"{finding.why}: {finding.text}{wait}"
