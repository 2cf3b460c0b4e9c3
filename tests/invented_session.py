"""Invented sessions: children with their needs and a shelf, from a seed. Nobody real."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta

from traywise.record.child import Child
from traywise.schedule.answer import Answer, GroupForecast
from traywise.session.request import Session, SessionChild, Weights, prepare
from traywise.shelf.lot import Lot
from traywise.tray.need import need_of

ON = date(2026, 11, 24)
START = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)

# age in days, then group: dose number, as a child on time would be seen
VISITS = [
    (62, {"HepB": 2, "DTaP": 1, "IPV": 1, "Hib": 1, "PCV": 1, "RV": 1}),
    (125, {"DTaP": 2, "IPV": 2, "Hib": 2, "PCV": 2, "RV": 2}),
    (187, {"HepB": 3, "DTaP": 3, "IPV": 3, "Hib": 3, "PCV": 3, "Flu": 1}),
    (380, {"MMR": 1, "VAR": 1, "HepA": 1, "PCV": 4, "Hib": 4, "Flu": 1}),
    (490, {"DTaP": 4, "IPV": 3, "Hib": 4, "HepA": 2}),
    (1520, {"DTaP": 5, "IPV": 4, "MMR": 2, "VAR": 2, "Flu": 1}),
    (4100, {"DTaP": 1, "HPV": 1, "MenACWY": 1}),
    (5900, {"MenACWY": 2, "MenB": 1, "Flu": 1}),
]
PRODUCTS = [
    ("08", "prefilled", 17.0), ("20", "vial", 20.0), ("110", "prefilled", 75.0),
    ("146", "prefilled", 130.0), ("120", "vial+diluent", 95.0), ("130", "prefilled", 55.0),
    ("10", "multidose", 15.0), ("10", "prefilled", 38.0), ("48", "vial+diluent", 12.0),
    ("49", "vial", 14.0), ("216", "prefilled", 220.0), ("215", "prefilled", 200.0),
    ("119", "oral", 120.0), ("116", "oral", 85.0), ("03", "vial+diluent", 80.0),
    ("21", "vial+diluent", 140.0), ("94", "vial+diluent", 230.0), ("83", "prefilled", 33.0),
    ("140", "prefilled", 19.0), ("141", "multidose", 16.0), ("115", "prefilled", 45.0),
    ("165", "prefilled", 250.0), ("136", "vial", 125.0), ("203", "vial", 130.0),
    ("163", "prefilled", 170.0), ("162", "prefilled", 150.0), ("316", "vial+diluent", 220.0),
]  # fmt: skip


def invent_child(rng: random.Random, number: int) -> SessionChild:
    days, doses = rng.choice(VISITS)
    groups = {}
    for group, dose in doses.items():
        late = rng.random() < 0.3
        overdue = ON - timedelta(days=rng.randrange(1, 300)) if late else None
        groups[group] = GroupForecast(
            status=rng.choices(["overdue" if late else "due", "complete"], [8, 1])[0],
            next_dose=dose,
            earliest=ON - timedelta(days=10),
            due=ON - timedelta(days=5),
            overdue=overdue,
            products=("Tdap",) if (group, dose) == ("DTaP", 1) and days > 3000 else (),
        )
    child = Child(
        id=f"child-{number:04}",
        born=ON - timedelta(days=days + rng.randrange(20)),
        weight_kg=5.0,
        answers={"funding": rng.choice(["public", "private", "public", ""])},
    )
    answer = Answer(id=child.id, assess_on=ON, edition="us-2025", groups=groups)
    return SessionChild(
        need=need_of(child, ON, answer),
        at=START + timedelta(minutes=rng.randrange(0, 46) * 5),
        back=rng.choices(["", "hard", "unlikely"], [8, 1, 1])[0],
    )


def invent_lot(rng: random.Random, number: int, children: int, short: float) -> Lot:
    cvx, presentation, cost = rng.choice(PRODUCTS)
    doses = max(1, round(rng.uniform(0.02, 0.22) * children * short))
    opened = None
    if presentation == "multidose":
        opened = START - timedelta(days=rng.randrange(1, 30)) if rng.random() < 0.4 else None
        doses = rng.randrange(1, 10) if opened else 10 * max(1, round(doses / 10))
    return Lot(
        lot=f"L{number:03}",
        cvx=cvx,
        presentation=presentation,
        doses=doses,
        expires=ON + timedelta(days=rng.randrange(-3, 400)),
        funding=rng.choice(["public", "private", "public", ""]),
        unit=rng.choice(["fridge 1", "fridge 2"]),
        opened_at=opened,
        cost=cost if rng.random() < 0.9 else None,
    )


def invent_session(
    seed: int, children: int = 40, lots: int = 60, *, short: float = 1.0, vaccinators: int = 4,
    weights: Weights | None = None,
) -> Session:  # fmt: skip
    """A morning of four hours; ``short`` below 1 makes the shelf scarce."""
    rng = random.Random(seed)
    roster = [invent_child(rng, number) for number in range(children)]
    shelf = [invent_lot(rng, number, children, short) for number in range(lots)]
    return prepare(
        roster, shelf, START, START + timedelta(hours=4),
        vaccinators=vaccinators, weights=weights, zone=UTC,
    )  # fmt: skip
