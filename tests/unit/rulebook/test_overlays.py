"""Overlays: rows changed, added and removed by key; names, dates, warnings of what comes out."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from tests.schedule_words import ask, day

from traywise.calendar import Span
from traywise.rulebook.edition import full_name, load_edition, overlay_names
from traywise.schedule.compile import compile_edition

HEAD = """
[overlay]
key = "clinic"
title = "What our clinic does"
publisher = "an invented clinic"
published = "2026-06-01"
on = ["us-2025"]
"""


def overlay(tmp_path: Path, text: str, head: str = HEAD) -> str:
    path = tmp_path / "clinic.toml"
    path.write_text(head + text, encoding="utf-8")
    return f"us-2025+{path}"


@pytest.mark.parametrize("name", overlay_names())
def test_each_overlay_that_comes_with_the_program_loads_and_compiles(name: str):
    edition = load_edition(name)
    assert name in edition.overlays
    assert edition.overlaid_rows or name == "who-bcg-not-given"
    compile_edition(edition)


def test_an_overlay_for_one_edition_may_be_named_alone_and_brings_what_it_builds_on():
    assert full_name("aap-2026") == "us-2025+aap-2026"
    assert full_name("who-hpv-1-dose") == "who+who-hpv-1-dose"
    assert full_name("cdc-2026-01") == "us-2025+cdc-2025-12+cdc-2026-01"
    assert full_name("us-2025+cdc-2026-01") == full_name("cdc-2026-01")
    assert full_name("us-2025+cdc-2025-12+cdc-2026-01") == full_name("cdc-2026-01")
    assert load_edition("aap-2026").name == "us-2025+aap-2026"


def test_the_head_names_the_overlay_and_the_newest_date_counts(tmp_path: Path):
    edition = load_edition(overlay(tmp_path, ""))
    assert edition.head.published == "2026-06-01"
    assert "What our clinic does" in edition.head.title
    assert edition.head.publisher.endswith("; an invented clinic")
    assert load_edition("us-2025").is_out_of_date(day("2026-07-01"))
    assert not edition.is_out_of_date(day("2027-06-01"))
    assert edition.is_out_of_date(day("2027-06-02"))


def test_an_older_overlay_does_not_make_an_edition_older(tmp_path: Path):
    name = overlay(tmp_path, "", HEAD.replace("2026-06-01", "2019"))
    assert load_edition(name).head.published == load_edition("us-2025").head.published


def test_a_change_replaces_the_keys_it_names_and_keeps_the_source_of_the_rest(tmp_path: Path):
    name = overlay(
        tmp_path,
        '[[change]]\ngroup = "MMR"\nrow = "MMR-2"\nrecommended_age = "18 months"\n'
        'overdue_age = "24 months"\nsource = "clinic, page 2"\n',
    )
    before = {row.key: row for row in load_edition("us-2025").group("MMR").rows}["MMR-2"]
    after = {row.key: row for row in load_edition(name).group("MMR").rows}["MMR-2"]
    assert after.recommended_age == Span(months=18)
    assert after.minimum_interval == before.minimum_interval
    assert after.source == f"clinic, page 2; {before.source}"
    # Born 2025-01-10, dose 1 at 12 months; dose 2 recommended at 18 months, 2026-07-10.
    answer = ask(day("2025-01-10"), [(day("2026-01-10"), "03")], day("2026-02-01"), edition=name)
    assert answer.groups["MMR"].due == day("2026-07-10")
    assert answer.edition == "us-2025+clinic"


def test_rows_are_added_before_a_row_or_at_the_end_and_removed(tmp_path: Path):
    row = 'after = 2\nsource = "common practice"\n'
    name = overlay(
        tmp_path,
        f'[[add]]\ngroup = "MMR"\nbefore = "MMR-2"\nkey = "MMR-early"\n{row}'
        f'[[add]]\ngroup = "MMR"\nkey = "MMR-last"\n{row}'
        '[[remove]]\ngroup = "MMR"\nrow = "MMR-travel"\n',
    )
    keys = [one.key for one in load_edition(name).group("MMR").rows]
    assert "MMR-travel" not in keys
    assert keys.index("MMR-early") == keys.index("MMR-2") - 1
    assert keys[-1] == "MMR-last"


def test_a_group_and_a_product_list_may_be_new(tmp_path: Path):
    name = overlay(
        tmp_path,
        '[products]\nrabies = ["175", "176"]\n'
        '[[group]]\nkey = "Rabies"\nname = "rabies"\nantigens = ["rabies"]\n'
        '[[add]]\ngroup = "Rabies"\nkey = "Rabies-1"\nafter = 0\nrecommended_age = "12 months"\n'
        'counts = ["rabies"]\nends_series = true\nsource = "common practice"\n',
    )
    answer = ask(day("2025-01-10"), [], day("2026-01-10"), edition=name)
    assert answer.groups["Rabies"].status == "due"
    given = ask(day("2025-01-10"), [(day("2026-01-10"), "176")], day("2026-02-01"), edition=name)
    assert given.groups["Rabies"].status == "complete"


def test_a_warning_of_an_overlay_stands_in_every_answer():
    answer = ask(day("2026-01-10"), [], day("2026-03-10"), edition="cdc-2026-01")
    texts = [fault.text for fault in answer.warnings if fault.code == "schedule.W006"]
    assert len(texts) == 2
    assert all("stayed" in text and "federal court" in text for text in texts)
    quiet = ask(day("2026-01-10"), [], day("2026-03-10"), edition="aap-2026")
    assert not [fault for fault in quiet.warnings if fault.code == "schedule.W006"]


# What the later United States schedules answer differently. Born 2025-11-01 unless said;
# facts: AAP schedule of 26 January 2026, CDC decisions of December 2025 and January 2026,
# as reported (docs/evidence-editions.md); dates worked by hand.
LATER = [
    # edition, born, day, conditions, doses, group, status, due
    ("us-2025", "2016-01-01", "2026-06-01", (), (), "HPV", "not yet", "2027-01-01"),
    ("aap-2026", "2016-01-01", "2026-06-01", (), (), "HPV", "due", "2025-01-01"),
    ("aap-2026", "2017-06-02", "2026-06-01", (), (), "HPV", "not yet", "2026-06-02"),
    ("cdc-2026-01", "2016-01-01", "2026-06-01", (), (), "HPV", "not yet", "2027-01-01"),
    (
        "cdc-2026-01",
        "2014-01-01",
        "2026-06-01",
        (),
        (("2025-06-01", "165"),),
        "HPV",
        "complete",
        None,
    ),
    (
        "us-2025",
        "2014-01-01",
        "2026-06-01",
        (),
        (("2025-06-01", "165"),),
        "HPV",
        "due",
        "2025-11-01",
    ),
    # immunocompromised: not sourced for the single dose, so a second is still due
    (
        "cdc-2026-01",
        "2014-01-01",
        "2026-06-01",
        ("immunocompromised",),
        (("2025-06-01", "165"),),
        "HPV",
        "overdue",
        "2025-06-29",
    ),
    ("aap-2026", "2024-06-02", "2026-06-01", (), (), "COVID", "overdue", "2025-08-22"),
    ("aap-2026", "2022-06-01", "2026-06-01", (), (), "COVID", "overdue", "2025-08-22"),
    (
        "aap-2026",
        "2016-06-01",
        "2026-06-01",
        (),
        (("2024-10-01", "309"),),
        "COVID",
        "clinician decides",
        "2025-08-22",
    ),
    ("cdc-2025-12", "2025-06-01", "2026-06-01", (), (), "COVID", "clinician decides", "2025-12-01"),
    ("cdc-2025-12", "2025-11-01", "2025-11-01", (), (), "HepB", "due", "2025-11-01"),
    (
        "cdc-2025-12",
        "2025-11-01",
        "2025-11-01",
        ("mother-hbsag-negative",),
        (),
        "HepB",
        "clinician decides",
        "2025-11-01",
    ),
    (
        "cdc-2025-12",
        "2025-11-01",
        "2025-11-02",
        ("mother-hbsag-negative",),
        (),
        "HepB",
        "clinician decides",
        "2025-11-01",
    ),
    (
        "cdc-2025-12",
        "2025-11-01",
        "2025-11-03",
        ("mother-hbsag-negative",),
        (),
        "HepB",
        "not yet",
        "2026-01-01",
    ),
    (
        "cdc-2025-12",
        "2025-11-01",
        "2025-11-01",
        ("mother-hbsag-positive",),
        (),
        "HepB",
        "due",
        "2025-11-01",
    ),
    ("cdc-2026-01", "2025-11-01", "2026-01-05", (), (), "RV", "clinician decides", "2026-01-01"),
    ("cdc-2026-01", "2025-11-01", "2026-01-05", (), (), "DTaP", "due", "2026-01-01"),
    (
        "cdc-2026-01",
        "2014-01-01",
        "2026-02-01",
        (),
        (),
        "MenACWY",
        "clinician decides",
        "2025-01-01",
    ),
    ("cdc-2026-01", "2014-01-01", "2026-02-01", ("asplenia",), (), "MenACWY", "overdue", None),
    ("cdc-2026-01", "2025-11-01", "2025-11-20", (), (), "HepB", "due", "2025-11-01"),
    ("cdc-2026-01", "2025-11-01", "2025-12-20", (), (), "HepB", "clinician decides", "2025-12-01"),
]


@pytest.mark.parametrize(
    ("edition", "born", "on", "conditions", "doses", "group", "status", "due"), LATER
)
def test_what_a_later_schedule_says(
    edition: str,
    born: str,
    on: str,
    conditions: tuple[str, ...],
    doses: tuple[tuple[str, str], ...],
    group: str,
    status: str,
    due: str | None,
):
    given = [(day(when), cvx) for when, cvx in doses]
    answer = ask(day(born), given, day(on), edition=edition, conditions=conditions)
    assert answer.groups[group].status == status
    if due is not None:
        assert answer.groups[group].due == day(due)


@pytest.mark.parametrize(("on", "products"), [("2026-03-31", ("MMR",)), ("2026-04-01", ())])
def test_before_four_years_measles_and_varicella_go_apart(on: str, products: tuple[str, ...]):
    answer = ask(day("2022-04-01"), [], day(on), edition="cdc-2025-12")
    assert answer.groups["MMR"].products == products
    assert answer.groups["VAR"].products == (("VAR",) if products else ())


def test_what_an_overlay_does_not_name_is_as_in_the_edition():
    one, other = load_edition("us-2025"), load_edition("us-2025+aap-2026")
    for group in ("DTaP", "Hib", "PCV", "IPV", "MMR", "VAR", "RV", "HepA", "HepB", "MenACWY"):
        assert one.group(group) == other.group(group)
    assert other.is_out_of_date(date(2027, 1, 27))
    assert not other.is_out_of_date(date(2027, 1, 26))
