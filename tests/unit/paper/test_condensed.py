"""A tray as the program composes it is short: what is needed to lay and give on one page.

Child, lots and answers are invented.
"""

from __future__ import annotations

import shutil
from datetime import date

import msgspec
import pytest
from tests.unit.paper.test_sheets import pages

from traywise.paper.sheet import tray_sheet_pdf
from traywise.paper.terminal import tray_text
from traywise.paper.typesetting import Paper
from traywise.record.child import Child, CvxCode, DoseGiven
from traywise.shelf.lot import Lot
from traywise.tray.compose import Visit, compose_tray

ON = date(2026, 11, 24)
INFANT = Child(
    id="inv-0412",
    name="Tamsin Ollerby",
    born=date(2026, 7, 12),
    gestation_weeks=39,
    weight_kg=6.4,
    weighed_on=ON,
    doses=(
        DoseGiven(on=date(2026, 7, 12), cvx=CvxCode("08")),
        *(DoseGiven(on=date(2026, 9, 14), cvx=CvxCode(c)) for c in ("110", "119", "48", "216")),
    ),
)
FOUR = {"119": "oral", "110": "prefilled", "48": "vial+diluent", "216": "prefilled"}
FIVE = {**FOUR, "307": "prefilled"}


def visit(child: Child, products: dict[str, str]) -> Visit:
    lots = [
        Lot(lot=f"IV{cvx}", cvx=cvx, presentation=how, doses=5, expires=date(2027, 9, 30))
        for cvx, how in products.items()
    ]
    return compose_tray(child, ON, lots)


def answered(child: Child) -> Child:
    """The child with "no" to every question that is open."""
    asked = visit(child, FOUR).tray.questions
    assert len(asked) > 10, "an infant's first screening is long; else this test says nothing"
    return msgspec.structs.replace(child, answers={question.key: "no" for question in asked})


@pytest.mark.parametrize(("asked_before", "most"), [(True, 95), (False, 122)])
def test_a_screen_or_two_tell_four_places(asked_before: bool, most: int) -> None:
    child = answered(INFANT) if asked_before else INFANT
    composed = visit(child, FOUR)
    assert len(composed.tray.tray) == 4
    text = tray_text(child, composed.answer, composed.tray, ON)
    assert len(text.splitlines()) <= most
    for place in composed.tray.tray:
        assert f"lot {place.lot}" in text
    assert text.count("Wipe the skin with alcohol") == 1
    assert text.count("kneecap") == 1
    assert text.count("more than a year before") == 1


def test_every_open_question_takes_one_line_or_two() -> None:
    composed = visit(INFANT, FOUR)
    text = tray_text(INFANT, composed.answer, composed.tray, ON)
    asked = text.split("\nAsk first")[1].split("▲ Watch for")[0].splitlines()[1:]
    starts = [line for line in asked if line.startswith("  ▲ ")]
    assert len(starts) == len(composed.tray.questions)
    assert len(asked) <= 2 * len(starts)


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("products", [FOUR, FIVE, {"119": "oral", "48": "vial+diluent"}])
def test_laying_and_giving_on_the_first_page_asking_on_the_second(
    products: dict[str, str], paper: Paper
) -> None:
    composed = visit(INFANT, products)
    assert len(composed.tray.tray) == len(products)
    pdf = tray_sheet_pdf(INFANT, composed.answer, composed.tray, ON, paper=paper)
    first, second, labels = pages(pdf)
    for place in composed.tray.tray:
        assert place.name in first
        assert f"lot {place.lot}" in first
        assert place.name in labels
    for words in ("After screening", "Lay ready", "epinephrine"):
        assert words in first
    for item in composed.tray.not_today:
        assert f"{item.group}: not today" in first
    assert first.count("Do not pull back on the plunger") == 1
    assert first.count("Watch for 15 minutes") == 1
    for words in ("▲ Ask first", "yes, which", "Next dates", "2027-07-12", "Sources"):
        assert words in second
        assert words not in first
    for page in (first, second):
        assert "Child and adolescent immunization schedule" in page
        assert "published 2025-01 (us-2025)" in page
    # A publication stands once, with all that is cited of it.
    assert second.count("Timing and Spacing of Immunobiologics, Table 3-2") == 1


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
def test_a_screened_infant_needs_one_page_and_the_next_dates() -> None:
    child = answered(INFANT)
    composed = visit(child, FOUR)
    assert composed.tray.state == "ready"
    text = pages(tray_sheet_pdf(child, composed.answer, composed.tray, ON))
    assert len(text) <= 3
    assert "◆ Ready to lay" in text[0]
    assert "Ask first" not in " ".join(text)


def test_the_tray_says_which_doses_of_the_record_did_not_count() -> None:
    """MMR two weeks after VAR: live vaccines of two kinds keep 28 days (ACIP, spacing)."""
    doses = (
        DoseGiven(on=date(2026, 11, 2), cvx=CvxCode("21")),
        DoseGiven(on=date(2026, 11, 16), cvx=CvxCode("03")),
    )
    toddler = Child(id="t", born=date(2025, 10, 20), weight_kg=9.2, doses=doses)
    composed = visit(toddler, FOUR)
    text = " ".join(tray_text(toddler, composed.answer, composed.tray, ON).split())
    assert "MMR of 2026-11-16 does not count for MMR: live vaccine conflict." in text
    assert "VAR of 2026-11-02" not in text
