"""Which lines a parent gets: by what was given and how old the child is."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest
from tests.unit.paper import invented

from traywise.paper.parent_sheet import come_back, parent_data
from traywise.paper.parent_texts import Language, parent_texts
from traywise.rulebook.tables import is_from_memory
from traywise.schedule.answer import GroupForecast

ON = invented.ON


def lines(places: tuple[int, ...], born: date = invented.ODILE.born) -> list[str]:
    child = msgspec.structs.replace(invented.ODILE, born=born)
    given = [p for p in invented.ODILE_TRAY.tray if p.n in places]
    data = parent_data(child, given, invented.ODILE_ANSWER, ON)
    return [line for section in data["lines"].values() for line in section]


def has(found: list[str], words: str) -> bool:
    return any(words in line for line in found)


def test_rotavirus_signs_stand_only_after_rotavirus() -> None:
    assert has(lines((1, 2)), "blood in the stool")
    assert not has(lines((2,)), "blood in the stool")


def test_injection_lines_need_an_injection() -> None:
    assert has(lines((2,)), "where the needle went in")
    assert not has(lines((1,)), "where the needle went in")


@pytest.mark.parametrize(("born", "young"), [(date(2026, 7, 25), True), (date(2026, 7, 24), False)])
def test_the_fever_line_for_the_youngest_ends_at_four_months(born: date, young: bool) -> None:
    assert young == has(lines((2,), born), "younger than 3 months")


@pytest.mark.parametrize(("born", "old"), [(date(2016, 11, 24), True), (date(2016, 11, 25), False)])
def test_fainting_is_named_from_ten_years(born: date, old: bool) -> None:
    assert old == has(lines((2,), born), "feel faint")


def test_nothing_given_nothing_to_expect() -> None:
    assert lines(()) == []


def test_every_line_has_both_languages_and_a_source() -> None:
    for text in parent_texts().values():
        assert text.en.strip()
        assert text.es.strip()
        if text.section in ("expect", "call", "emergency") and text.key != "call-worry":
            assert is_from_memory(text.source), "clinical lines wait to be confirmed"


@pytest.mark.parametrize("language", ["en", "es"])
def test_dates_to_come_back_are_in_order(language: Language) -> None:
    answer = invented.answer_for(
        invented.ODILE,
        MMR=GroupForecast(status="not yet", due=date(2027, 7, 12)),
        Flu=GroupForecast(status="not yet", due=date(2027, 1, 12)),
        VAR=GroupForecast(status="deferred", due=date(2026, 12, 1), until=date(2027, 1, 12)),
        PCV=GroupForecast(status="due", due=date(2026, 11, 1)),
        Hib=GroupForecast(status="complete"),
    )
    groups = [what for _, what in come_back(answer, ON, language)]
    names = {g: parent_texts()[f"group-{g}"].words(language) for g in ("PCV", "Flu", "VAR", "MMR")}
    assert [names["PCV"], f"{names['VAR']}, {names['Flu']}", names["MMR"]] == groups


def test_another_language_is_refused() -> None:
    with pytest.raises(ValueError, match="en, es"):
        parent_data(
            invented.ODILE,
            (),
            invented.ODILE_ANSWER,
            ON,
            language="xx",  # type: ignore[arg-type]
        )
