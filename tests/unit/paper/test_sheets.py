"""The PDFs: what stands on them, on which page, in true size, with any letters."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import msgspec
import pytest
from tests.unit.paper import invented

from traywise.paper.day_sheet import day_sheet_pdf
from traywise.paper.parent_sheet import parent_sheet_pdf
from traywise.paper.sheet import tray_sheet_pdf, tray_sheets_pdf
from traywise.paper.sheet_data import TraySheet
from traywise.paper.typesetting import PAPERS, Paper
from traywise.paper.wording import CARE
from traywise.record.child import Child
from traywise.tray.plan import Tray

pytestmark = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext (poppler-utils) is not installed"
)
ON = invented.ON


def pages(pdf: bytes) -> list[str]:
    """The text of each page, blanks joined."""
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True)
    assert done.returncode == 0
    return [" ".join(page.split()) for page in done.stdout.decode().split("\f")[:-1]]


def sheet(child: Child, tray: Tray, paper: Paper = "a4") -> list[str]:
    answer = invented.answer_for(child)
    return pages(tray_sheet_pdf(child, answer, tray, ON, paper=paper))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_sheet_tells_the_whole_tray(paper: Paper) -> None:
    pdf = tray_sheet_pdf(
        invented.ODILE, invented.ODILE_ANSWER, invented.ODILE_TRAY, ON, paper=paper
    )
    *text, labels = pages(pdf)
    whole = " ".join(text)
    for words in (
        "Odile Fenwright",
        "inv-0041",
        "2026-07-12",
        "4 months 12 days",
        "6.4 kg on 2026-11-24",
        "▲ After screening",
        "blocked or telescoped bowel",
        "Never inject.",
        "QS4174",
        "Left thigh, outer middle third",
        "deep blue hub",
        "Flu: wait until 2027-01-12.",
        "RSV: not today.",
        "2027-07-12",
        "common practice",
        "us-2025",
        "Watch 15 minutes",
    ):
        assert words in whole, words
    for page in text:
        assert CARE[:60] in page, "the caution stands on every page"
        assert "Odile Fenwright" in page
    assert "DO NOT INJECT" in labels
    assert labels.count("initials") == 4
    assert "within 24 h of mixing" in labels


def test_four_places_fit_on_one_a4_page_and_labels_on_a_second() -> None:
    assert len(sheet(invented.ODILE, invented.ODILE_TRAY)) == 2


def test_eight_places_and_their_labels() -> None:
    *text, labels = sheet(invented.CATCH_UP, invented.CATCH_UP_TRAY)
    whole = " ".join(text)
    for place in invented.CATCH_UP_TRAY.tray:
        assert place.name in whole
        assert place.name in labels
    assert f"page 1 of {len(text)}" in text[0]


def test_a_tray_with_nothing_to_give_has_no_labels_but_says_when() -> None:
    pdf = tray_sheet_pdf(invented.NOTHING, invented.NOTHING_ANSWER, invented.NOTHING_TRAY, ON)
    (page,) = pages(pdf)
    assert "◇ Nothing to give today" in page
    assert "MMR: wait until 2026-12-08." in page
    assert "name not recorded" in page
    assert "weight not recorded" in page
    assert "unknown key colour" in page, "a warning of the record is not lost"


def test_what_is_missing_keeps_the_tray_from_reading_ready() -> None:
    (page, _) = sheet(invented.TEEN, invented.TEEN_TRAY)
    assert "▲ Not complete" in page
    assert "Needle not at hand for place 1." in page
    assert "Ready to lay" not in page
    assert "do not use LA" in page


def test_text_of_the_record_is_never_code() -> None:
    page, labels = sheet(invented.NEWBORN, invented.NEWBORN_TRAY)
    for text in (page, labels):
        assert r"Ayşe <b>& #let $x$ *Nørgård* _Ωμέγα_ \ @ref" in text
    assert "No lot chosen for place 2." in page


@pytest.mark.parametrize(
    "name", ['"]); #panic("x")', '#read("/etc/hostname")', "// c", "{{x}}", "a\nb\x1b[2J"]
)
def test_hostile_names_print_as_they_are(name: str) -> None:
    child = msgspec.structs.replace(invented.NEWBORN, name=name)
    page = sheet(child, invented.NEWBORN_TRAY)[0]
    wanted = name.replace("\n", " ").replace("\x1b", "�")
    assert wanted.replace("'", "’") in page


def test_letters_without_a_shape_are_admitted() -> None:
    child = msgspec.structs.replace(invented.NEWBORN, name="Unwritable \U0001e030\U00018b00")
    assert "cannot be drawn" in sheet(child, invented.NEWBORN_TRAY)[0]
    assert "cannot be drawn" not in sheet(invented.NEWBORN, invented.NEWBORN_TRAY)[0]


def test_a_session_numbers_each_childs_pages_on_their_own() -> None:
    sheets = [
        TraySheet(child=child, answer=invented.answer_for(child), tray=tray, on=ON)
        for child, tray in (
            (invented.CATCH_UP, invented.CATCH_UP_TRAY),
            (invented.NOTHING, invented.NOTHING_TRAY),
            (invented.ODILE, invented.ODILE_TRAY),
        )
    ]
    text = pages(tray_sheets_pdf(sheets))
    last = next(page for page in text if "Odile" in page)
    assert "page 1 of 1" in last
    assert "inv-0041" in last
    assert "Thornquay" not in last


@pytest.mark.parametrize("paper", PAPERS)
def test_the_needle_is_printed_in_true_size(paper: Paper, tmp_path: Path) -> None:
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(
        tray_sheet_pdf(
            invented.TEEN, invented.answer_for(invented.TEEN), invented.TEEN_TRAY, ON, paper=paper
        )
    )
    dots_per_mm = 10
    raster = raster_of_first_page(pdf, dots_per_mm)
    # The needle is the one shape in this colour (#66707c) that is longer than a letter.
    pixel = bytes((0x66, 0x70, 0x7C))
    longest = 0
    while pixel * (longest + 1) in raster:
        longest += 1
    # The bevel makes the upper edge shorter than the lower one, which ends in the tip.
    assert longest / dots_per_mm == pytest.approx(38, abs=0.5)


def raster_of_first_page(pdf: Path, dots_per_mm: int) -> bytes:
    """The page as bare red, green and blue bytes."""
    resolution = f"{25.4 * dots_per_mm}"
    command = ["pdftoppm", "-r", resolution, "-f", "1", "-l", "1", str(pdf)]
    return subprocess.run(command, capture_output=True, check=True).stdout


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(ValueError, match="a4, a5, us-letter"):
        sheet(invented.ODILE, invented.ODILE_TRAY, "a6")  # type: ignore[arg-type]


@pytest.mark.parametrize("paper", PAPERS)
def test_the_day_on_paper(paper: Paper) -> None:
    text = " ".join(pages(day_sheet_pdf(invented.BOARD, paper=paper)))
    for words in ("5 children, 16 doses", "09:20", "Odile Fenwright", "▲ 1 question"):
        assert words in text
    for words in ("PK7718", "29 × needle 23 G × 25 mm", "Fridge B 8.6 °C", "needle not chosen"):
        assert words in text


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", ["After today’s vaccines", "whooping cough", "left thigh", "January 12, 2027"]),
        ("es", ["vacunas de hoy", "tos ferina", "muslo izquierdo", "12 de enero de 2027"]),
    ],
)
def test_the_parents_sheet(language: str, words: list[str]) -> None:
    (page,) = pages(
        parent_sheet_pdf(
            invented.ODILE,
            invented.ODILE_TRAY.tray,
            invented.ODILE_ANSWER,
            ON,
            language=language,  # type: ignore[arg-type]
            phone="555 0100",
        )
    )
    for text in (*words, "555 0100", "QS4174"):
        assert text in page
