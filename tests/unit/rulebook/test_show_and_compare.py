"""Rows in the words of the published table, and two editions side by side."""

from __future__ import annotations

import pytest

from traywise.paper.columns import width_of
from traywise.paper.edition_text import compare_text, group_text
from traywise.rulebook.compare import compare
from traywise.rulebook.edition import load_edition
from traywise.rulebook.in_words import FIELDS, condition_words, dose_words
from traywise.rulebook.rows import Row
from traywise.rulebook.show import group_in_words
from traywise.rulebook.tables import EDITIONS, convert_row

EVERY = [(name, group.key) for name in ("us-2025", "who") for group in load_edition(name).groups]


def row(**keys: object) -> Row:
    raw = {"key": "X", "source": "common practice", **keys}
    made, faults = convert_row(raw, Row, EDITIONS / "x.toml", "X")
    assert made is not None, faults
    return made


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"after": 0}, "1"),
        ({"after": 2}, "3"),
        ({"after": "3 or more"}, "4 on"),
        ({"after": "0 to 2"}, "1 to 3"),
        ({"after": "series"}, "further"),
        ({"after": "any"}, "any"),
        ({"after": 0, "kind": "extra dose", "dose": 0}, "0 (extra)"),
        ({"after": 0, "kind": "too old"}, "-"),
    ],
)
def test_the_dose_is_told_as_the_table_counts_it(keys: dict[str, object], words: str):
    assert dose_words(row(**keys)) == words


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({}, ()),
        (
            {"age_from": "12 months", "age_before": "15 months"},
            ("age from 12 months and before 15 months",),
        ),
        ({"when": {"first_dose_from": "12 months"}}, ("age at first dose from 12 months",)),
        (
            {"when": {"doses": [{"not_products": "PRP-OMP", "at_most": 0}]}},
            ("no dose of other than PRP-OMP valid",),
        ),
        (
            {"when": {"doses": [{"age_before": "12 months", "at_least": 3}]}},
            ("at least 3 doses valid at an age before 12 months",),
        ),
        (
            {"when": {"doses": [{"products": "MMR", "given": True, "at_least": 1}]}},
            ("at least 1 dose of MMR given",),
        ),
        ({"when": {"child": ["pregnant"], "sex": "F"}}, ("Pregnant", "female")),
        (
            {"when": {"child_none": ["hiv", "pregnant"]}},
            ("none of: HIV infection, Pregnant",),
        ),
        ({"too_old_from": "8 months 1 day"}, ("not from 8 months 1 day",)),
        (
            {"event": {"of": ["haematopoietic-transplant"], "time": "before"}},
            ("dose before: Stem-cell transplant",),
        ),
        (
            {
                "event": {
                    "of": ["chemotherapy", "radiotherapy"],
                    "time": "during",
                    "lead": "14 days",
                    "trail": "3 months",
                }
            },
            (
                "dose during: Chemotherapy for cancer or Radiotherapy, "
                "from 2 weeks before it to 3 months after it",
            ),
        ),
        (
            {
                "when": {"doses": [{"products": "Tdap", "since_event": True, "at_most": 0}]},
                "event": {
                    "of": ["pregnant"],
                    "time": "during",
                    "opens": "27 weeks",
                    "lasts": "280 days",
                    "minimum_interval": "27 weeks",
                    "overdue_interval": "37 weeks",
                },
            },
            (
                "no dose of Tdap valid since its first day",
                "dose during: Pregnant, from 27 weeks after its first day",
                "it lasts 40 weeks, so either day gives the other",
                "27 weeks after its first day",
                "overdue 37 weeks after its first day",
            ),
        ),
        (
            {
                "when": {"doses": [{"within_before_event": "5 years", "at_most": 0}]},
                "event": {
                    "of": ["wound-clean-minor"],
                    "time": "during",
                    "minimum_interval": "0 days",
                },
            },
            (
                "no dose valid less than 5 years before its first day, or since",
                "dose during: Wound, clean and minor",
                "from its first day",
            ),
        ),
        (
            {"event": {"of": ["chemotherapy"], "time": "unknown", "day": "last"}},
            ("last day not recorded: Chemotherapy for cancer",),
        ),
        ({"given_in_campaign": True}, ("given in a campaign",)),
        ({"given_with": ("PPSV23",)}, ("given on the day of PPSV23",)),
    ],
)
def test_conditions_are_told_in_words(keys: dict[str, object], words: tuple[str, ...]):
    found = condition_words(row(**keys))
    assert found == words


@pytest.mark.parametrize(("name", "group"), EVERY)
def test_a_shown_group_fits_the_screen_and_names_every_row_with_its_source(name: str, group: str):
    edition = load_edition(name)
    text = group_text(edition, group, group_in_words(edition, group))
    assert max(width_of(line) for line in text.splitlines()) <= 100
    for one in edition.group(group).rows:
        assert f"[{one.key}" in text
    assert text.count("Source: ") == len(edition.group(group).rows)


def test_a_row_shows_the_figures_of_the_published_table():
    rows = {line.key: line for line in group_in_words(load_edition("us-2025"), "HepB")}
    third = rows["HepB-3"]  # ACIP Table 3-2: 24 weeks, 8 weeks, 16 weeks after dose 1
    assert (third.dose, third.recommended, third.minimum_age) == ("3", "6 months", "24 weeks")
    assert third.minimum_interval == "8 weeks; 16 weeks from dose 1"
    assert third.ends_series


def test_what_is_from_memory_and_what_an_overlay_set_is_marked():
    plain = {line.key: line for line in group_in_words(load_edition("who"), "HPV")}
    assert plain["HPV-2"].from_memory
    laid = {line.key: line for line in group_in_words(load_edition("who-hpv-1-dose"), "HPV")}
    assert laid["HPV-1"].overlaid
    assert not laid["HPV-3"].overlaid


def test_every_key_of_a_row_has_words_so_that_no_difference_is_passed_over():
    assert {*FIELDS, "key"} == set(Row.__struct_fields__)


def test_an_edition_does_not_differ_from_itself():
    assert compare(load_edition("who"), load_edition("who")) == ()


def test_an_overlay_differs_by_what_it_changes_and_nothing_else():
    changes = compare(load_edition("who"), load_edition("who-measles-low-transmission"))
    assert {(c.group, c.row, c.kind) for c in changes} == {
        ("Measles", "Measles-1", "changed"),
        ("Measles", "Measles-2", "changed"),
    }
    first = next(c for c in changes if c.row == "Measles-1")
    told = {field.field: (field.old, field.new) for field in first.fields}
    assert told["minimum age"] == ("9 months", "12 months")
    assert told["recommended age"] == ("9 months", "12 months")
    assert "low transmission" in told["source"][1]
    assert set(told) == {"minimum age", "recommended age", "source"}


def test_rows_of_one_edition_only_are_told_in_one_line():
    changes = compare(load_edition("who"), load_edition("who-hib-3p1"), "Hib")
    added = next(c for c in changes if c.row == "Hib-booster")
    assert added.kind == "only in the second"
    assert added.summary.startswith("dose 4; minimum interval 6 months")
    back = compare(load_edition("who-hib-3p1"), load_edition("who"), "Hib")
    assert next(c for c in back if c.row == "Hib-booster").kind == "only in the first"


def test_groups_and_general_rules_that_differ_are_told():
    changes = compare(load_edition("us-2025"), load_edition("who"))
    general = changes[0]
    assert (general.group, general.row) == ("", "")
    told = {(field.field, field.old, field.new) for field in general.fields}
    assert ("grace days", "4 days", "none") in told
    assert ("overdue after", "4 weeks", "nothing") in told
    alone = {(c.group, c.kind) for c in changes if c.summary.startswith("the whole group")}
    assert ("MMR", "only in the first") in alone
    assert ("Measles", "only in the second") in alone


def test_a_comparison_fits_the_screen():
    first, second = load_edition("us-2025"), load_edition("who")
    text = compare_text(first, second, compare(first, second))
    assert max(width_of(line) for line in text.splitlines()) <= 100
