"""Invented children and trays for the drawing tests. Nobody here exists; no rule is meant.

The trays are written down, not planned: clinical details are illustrations.
"""

from __future__ import annotations

from datetime import date

from traywise.errors import Fault
from traywise.paper.day_board import BoardDose, BoardRow, DayBoard, Pick, Watch
from traywise.record.child import Child
from traywise.schedule.answer import Answer, GroupForecast
from traywise.tray.plan import Needle, NotToday, OpenQuestion, Place, Supply, Tray

ON = date(2026, 11, 24)
NEEDLE_25 = Needle(gauge=23, length_mm=25)
NEEDLE_16 = Needle(gauge=25, length_mm=16)
NEEDLE_38 = Needle(gauge=22, length_mm=38)


def place(n: int, name: str, site: str | None, **changes: object) -> Place:
    """One invented place; ``changes`` replace any field."""
    fields: dict[str, object] = {
        "n": n,
        "cvx": "110",
        "vaccine": name,
        "name": name,
        "lot": f"QS{4100 + 37 * n}",
        "expires": date(2027, 6, 30),
        "presentation": "prefilled",
        "groups": ("DTaP",),
        "dose_numbers": {"DTaP": 2},
        "route": "IM",
        "volume_ml": 0.5,
        "site": site,
        "site_text": "left thigh, outer middle third" if site == "LT" else "right thigh",
        "needle": NEEDLE_25,
        "angle_deg": 90,
        "technique": "whole leg bare, quick, no drawing back",
        "syringe": "ready-filled syringe",
        "why": ("due since 2026-11-12",),
        "source": ("common practice",),
        "unit": "Fridge A",
    }
    fields.update(changes)
    return Place(**fields)  # type: ignore[arg-type]


ODILE = Child(
    id="inv-0041",
    name="Odile Fenwright",
    born=date(2026, 7, 12),
    sex="F",
    gestation_weeks=39,
    weight_kg=6.4,
    weighed_on=ON,
    appointment="09:20",
)

ODILE_TRAY = Tray(
    state="after screening",
    tray=(
        place(
            1,
            "RV1",
            None,
            cvx="119",
            groups=("RV",),
            dose_numbers={"RV": 2},
            route="PO",
            volume_ml=1.5,
            site_text="by mouth, inside the cheek, before the injections",
            needle=None,
            angle_deg=None,
            presentation="oral",
            syringe="oral applicator",
            technique="slowly, towards the back of the cheek",
            cautions=("Never inject. If spat out, do not repeat.",),
            why=("due since 2026-11-12", "last day 2027-03-12"),
            source=("acip-intervals, rotavirus", "from memory"),
        ),
        place(
            2,
            "DTaP-HepB-IPV",
            "LT",
            groups=("DTaP", "HepB", "IPV"),
            dose_numbers={"DTaP": 2, "HepB": 2, "IPV": 2},
            steps=("shake until evenly cloudy", "put the needle on"),
            why=("one injection instead of three", "kept apart from place 4, the other sore one"),
            source=("acip-intervals, DTaP-2",),
        ),
        place(
            3,
            "Hib (PRP-T)",
            "RT",
            cvx="48",
            groups=("Hib",),
            dose_numbers={"Hib": 2},
            position="upper",
            site_text="right thigh, upper, outer middle third",
            presentation="vial+diluent",
            syringe="1 mL syringe",
            steps=("draw up all of its own diluent", "inject into the vial, swirl", "draw 0.5 mL"),
            use_within_minutes=1440,
            cautions=("Use only the diluent packed with this lot.",),
        ),
        place(
            4,
            "PCV20",
            "RT",
            cvx="216",
            groups=("PCV",),
            dose_numbers={"PCV": 2},
            position="lower",
            site_text="right thigh, lower, 25 mm or more below place 3",
            why=("last because it stings most",),
        ),
    ),
    not_today=(
        NotToday(
            group="Flu", why="under 6 months", until=date(2027, 1, 12), source="common practice"
        ),
        NotToday(group="RSV", why="no product on the shelf", would_serve=("nirsevimab 100 mg",)),
    ),
    questions=(
        OpenQuestion(
            key="intussusception",
            text="Has she ever had a blocked or telescoped bowel?",
            groups=("RV",),
            source="from memory",
        ),
    ),
    supplies=(
        Supply(item="needle", count=3, gauge=23, length_mm=25),
        Supply(item="syringe", count=1, volume_ml=1.0),
        Supply(item="wipe", count=3),
        Supply(item="bandage", count=3),
        Supply(item="label", count=1),
    ),
    cautions=("Watch 15 minutes after the last dose.",),
)

ODILE_ANSWER = Answer(
    id="inv-0041",
    assess_on=ON,
    edition="us-2025",
    groups={
        "RV": GroupForecast(status="due", next_dose=2, due=date(2026, 11, 12), why="4 months"),
        "DTaP": GroupForecast(status="due", next_dose=2, due=date(2026, 11, 12)),
        "HepB": GroupForecast(status="due", next_dose=2, due=date(2026, 11, 12)),
        "IPV": GroupForecast(status="due", next_dose=2, due=date(2026, 11, 12)),
        "Hib": GroupForecast(status="due", next_dose=2, due=date(2026, 11, 12)),
        "PCV": GroupForecast(status="due", next_dose=2, due=date(2026, 11, 12)),
        "Flu": GroupForecast(
            status="not yet",
            next_dose=1,
            earliest=date(2027, 1, 12),
            due=date(2027, 1, 12),
            why="from 6 months",
            source="common practice",
        ),
        "MMR": GroupForecast(
            status="not yet",
            next_dose=1,
            earliest=date(2027, 7, 12),
            due=date(2027, 7, 12),
            why="from 12 months",
            source="acip-intervals, MMR-1",
        ),
        "HPV": GroupForecast(status="not recommended", why="from 9 years"),
    },
)

TEEN = Child(
    id="inv-0077",
    name="Maximilian-Konstantin von und zu Hohenbrück-Żółćiński de la Fontaine",
    born=date(2011, 3, 2),
    sex="M",
    weight_kg=95,
    weighed_on=date(2026, 10, 1),
    avoid=("LA",),
    appointment="10:40",
)


def answer_for(child: Child, **groups: GroupForecast) -> Answer:
    """An answer with just these groups."""
    return Answer(id=child.id, assess_on=ON, edition="us-2025", groups=dict(groups))


TEEN_TRAY = Tray(
    tray=(
        place(
            1,
            "MenACWY-CRM, one-vial liquid presentation",
            "RD",
            groups=("MenACWY",),
            dose_numbers={"MenACWY": 2},
            position="upper",
            site_text="right deltoid, thickest part",
            needle=NEEDLE_38,
            needle_choices=(NEEDLE_25, NEEDLE_38),
            needle_missing="22 to 25 G × 38 mm: the supplies hold none; order or borrow before",
            cautions=("Faint-prone: give lying down, watch 15 minutes lying.",),
        ),
    ),
    cautions=("Faint-prone: lay him down before the first needle.",),
    supplies=(Supply(item="needle+syringe", count=1, gauge=22, length_mm=38, volume_ml=1.0),),
)

NEWBORN = Child(
    id="inv-0003",
    name="Ayşe <b>& #let $x$ *Nørgård* _Ωμέγα_ \\ @ref",
    born=date(2026, 11, 23),
    gestation_weeks=31,
    birth_weight_g=1480,
    weight_kg=1.48,
    weighed_on=date(2026, 11, 23),
)

NEWBORN_TRAY = Tray(
    tray=(
        place(
            1,
            "HepB",
            "RT",
            cvx="08",
            groups=("HepB",),
            dose_numbers={"HepB": 1},
            needle=NEEDLE_16,
            technique="skin stretched flat, straight in",
            site_text="right thigh, outer middle third",
        ),
        place(
            2,
            "HBIG",
            "LT",
            cvx="30",
            groups=("HBIG",),
            dose_numbers={},
            needle=NEEDLE_16,
            lot=None,
            expires=None,
            source=("from memory",),
        ),
    ),
)

NOTHING = Child(id="inv-0099", born=date(2024, 2, 29))
NOTHING_TRAY = Tray(
    state="nothing due",
    not_today=(
        NotToday(group="MMR", why="other live vaccine on 2026-11-10", until=date(2026, 12, 8)),
    ),
)
NOTHING_ANSWER = Answer(
    id=NOTHING.id,
    assess_on=ON,
    edition="us-2025",
    warnings=(Fault("record.W004", "line 3", "unknown key colour"),),
    groups={
        "MMR": GroupForecast(
            status="deferred", next_dose=1, due=date(2026, 12, 8), until=date(2026, 12, 8)
        ),
        "Hib": GroupForecast(status="complete"),
    },
)

CATCH_UP = Child(
    id="inv-0120", name="Basim Thornquay", born=date(2022, 5, 3), weight_kg=16.2, weighed_on=ON
)
_EIGHT = (
    ("DTaP-IPV", "LD", None, "IM", NEEDLE_25),
    ("HepA", "RD", "upper", "IM", NEEDLE_25),
    ("HepB", "RD", "lower", "IM", NEEDLE_25),
    ("PCV20", "LT", "upper", "IM", NEEDLE_25),
    ("Hib (PRP-T)", "LT", "lower", "IM", NEEDLE_25),
    ("MMR", "LA", None, "SC", NEEDLE_16),
    ("VAR", "RA", None, "SC", NEEDLE_16),
    ("LAIV", None, None, "NAS", None),
)
CATCH_UP_TRAY = Tray(
    tray=tuple(
        place(
            n,
            name,
            site,
            position=position,
            route=route,
            needle=needle,
            groups=(name.split(" ")[0],),
            dose_numbers={name.split(" ")[0]: 1},
            angle_deg={"IM": 90, "SC": 45}.get(route),
            site_text="each nostril" if site is None else f"{site}, {position or 'middle'}",
            syringe="nasal sprayer" if route == "NAS" else "1 mL syringe",
            volume_ml=0.2 if route == "NAS" else 0.5,
            use_within_minutes=30 if name == "VAR" else None,
        )
        for n, (name, site, position, route, needle) in enumerate(_EIGHT, start=1)
    )
)

BOARD = DayBoard(
    title="Tuesday morning",
    answer="5 children, 16 doses, 1 not served",
    on=ON,
    edition="us-2025",
    figures=(("9", "injections saved by combinations"), ("2", "lots used before they expire")),
    rows=(
        BoardRow(
            time="09:00",
            name="Piet and Wim Aldersea",
            about="2 months, twins born at 31 weeks",
            doses=(
                BoardDose(name="DTaP-IPV-Hib-HepB ×2", needle_mm=16),
                BoardDose(name="PCV20 ×2", needle_mm=16),
                BoardDose(name="RV1 ×2", route="PO"),
            ),
            status="done",
            word="given 09:22",
            note="may leave 09:37",
        ),
        BoardRow(
            time="09:20",
            name="Odile Fenwright",
            about="4 months",
            doses=(
                BoardDose(name="RV1", route="PO"),
                BoardDose(name="DTaP-HepB-IPV", needle_mm=25),
                BoardDose(name="Hib", needle_mm=25),
                BoardDose(name="PCV20", needle_mm=25),
            ),
            status="answer",
            word="1 question open",
        ),
        BoardRow(
            time="10:00",
            name="Lotte Saltmarsh",
            about="15 months, on oral steroid",
            doses=(BoardDose(name="DTaP", needle_mm=25), BoardDose(name="PCV20", needle_mm=None)),
            status="stop",
            word="MMR, VAR not today",
            note="earliest 2026-12-22",
        ),
        BoardRow(time="10:40", name=TEEN.name or "", about="15 years", status="waiting", word="x"),
    ),
    picks=(
        Pick(unit="Fridge A", what="PCV20", lot="PK7718", count=9, expires=date(2027, 9, 30)),
        Pick(
            unit="Fridge B",
            what="MMR",
            lot="MM3304",
            count=4,
            note="with its diluent; use within 8 h of mixing",
        ),
    ),
    supplies=(
        Supply(item="needle", count=29, gauge=23, length_mm=25),
        Supply(item="syringe", count=14, volume_ml=1.0),
    ),
    watch=(Watch(status="stop", text="Fridge B 8.6 °C for 12 min, 06:14", action="look"),),
)
