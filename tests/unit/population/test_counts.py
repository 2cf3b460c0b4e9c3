"""Coverage, recall and comparison on a handful of answers that can be counted by hand."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path

import msgspec
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from traywise.cli import main
from traywise.errors import InputError
from traywise.population.answer_columns import answer_schema
from traywise.population.columns import age_years
from traywise.population.compare import compare_editions
from traywise.population.coverage import Share, coverage_of
from traywise.population.recall import calls_of

ON = date(2026, 11, 24)


def answer_file(path: Path, rows: list[tuple[str, date | None, str | None, str | None]]) -> Path:
    """Answers for the groups MMR and VAR: id, born, the two statuses; overdue since MMR's row."""
    schema = answer_schema(("MMR", "VAR"), {"edition": "us-2025", "assess_on": ON.isoformat()})
    columns: dict[str, list[object]] = {name: [None] * len(rows) for name in schema.names}
    for place, (name, born, mmr, var) in enumerate(rows):
        columns["id"][place], columns["born"][place] = name, born
        columns["MMR_status"][place], columns["VAR_status"][place] = mmr, var
        columns["MMR_overdue"][place] = date(2026, 11, 4)
        columns["VAR_overdue"][place] = date(2026, 10, 25)
    pq.write_table(pa.table(columns, schema=schema), path)
    return path


@pytest.fixture
def answers(tmp_path: Path) -> Path:
    return answer_file(
        tmp_path / "answers.pq",
        [
            ("a", date(2024, 11, 24), "complete", "overdue"),  # two years old today
            ("b", date(2024, 11, 25), "overdue", "due"),  # two tomorrow
            ("c", date(2025, 3, 1), "not yet", "immune"),
            ("d", date(2025, 3, 1), "deferred", "not recommended"),
            ("e", date(2025, 3, 1), "due", "aged out"),
            ("f", None, None, None),
            ("g", date(2024, 1, 2), "overdue", "overdue"),
        ],
    )


def test_coverage_counts_by_group_and_completed_year(answers: Path) -> None:
    found = coverage_of(answers)

    def row(group: str, age: int, up: int, behind: int, rest: int, share: float | None) -> Share:
        return Share(
            group=group, age_years=age, up_to_date=up, behind=behind, not_counted=rest, share=share
        )

    assert found.children == 7
    assert found.shares == (
        row("MMR", 1, 1, 3, 0, 0.25),
        row("MMR", 2, 1, 1, 0, 0.5),
        row("VAR", 1, 1, 1, 2, 0.5),
        row("VAR", 2, 0, 2, 0, 0.0),
    )


@pytest.mark.parametrize(
    ("born", "on", "years"),
    [
        (date(2020, 2, 29), date(2021, 2, 28), 0),
        (date(2020, 2, 29), date(2021, 3, 1), 1),
        (date(2000, 1, 1), date(2000, 1, 1), 0),
        (date(1960, 6, 15), date(2000, 6, 14), 39),
        (date(1960, 6, 15), date(2000, 6, 15), 40),
        (date(2000, 1, 2), date(2000, 1, 1), -1),
    ],
)
def test_completed_years(born: date, on: date, years: int) -> None:
    assert age_years(pa.array([born]), on).tolist() == [years]


def test_recall_calls_the_longest_overdue_first(answers: Path) -> None:
    calls = calls_of(answers)

    # VAR is overdue since 25 October (30 days), MMR since 4 November (20 days).
    assert [(call.id, call.days_overdue) for call in calls] == [("g", 30), ("a", 30), ("b", 20)]
    assert calls[2].also_due == ("VAR",)
    assert [call.id for call in calls_of(answers, at_least_days=21)] == ["g", "a"]
    assert [call.id for call in calls_of(answers, groups=("MMR",))] == ["g", "b"]
    assert [call.id for call in calls_of(answers, limit=1)] == ["g"]


def test_unknown_groups_and_other_files_are_refused(answers: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.pq"
    pq.write_table(pa.table({"id": ["a"]}), other)

    with pytest.raises(InputError, match=r"population\.E004"):
        coverage_of(answers, ("MMRX",))
    with pytest.raises(InputError, match=r"population\.E003"):
        calls_of(other)


def test_comparing_counts_the_children_whose_answer_changes(tmp_path: Path) -> None:
    # An overlay that ends MMR after one dose: children with one dose get another answer.
    overlay = tmp_path / "one-mmr.toml"
    overlay.write_text(
        '[overlay]\nkey = "one-mmr"\ntitle = "Invented"\npublisher = "Invented"\n'
        'published = "2026-01"\non = ["us-2025"]\n'
        '[[add]]\ngroup = "MMR"\nbefore = "MMR-2"\nkey = "MMR-one-is-enough"\n'
        'kind = "no further dose"\nafter = 1\nsource = "common practice"\n'
    )
    source = tmp_path / "in.pq"
    doses = [[], [date(2024, 3, 1)], [date(2024, 3, 1), date(2024, 9, 1)]]
    table = pa.table(
        {
            "id": ["none", "one", "two"],
            "born": [date(2023, 2, 20)] * 3,
            "dose_on": pa.array(doses, pa.list_(pa.date32())),
            "dose_cvx": pa.array([[3] * len(days) for days in doses], pa.list_(pa.uint16())),
        }
    )
    pq.write_table(table, source)

    found = compare_editions(source, "us-2025", f"us-2025+{overlay}", ON, 1, lambda _: None)

    assert found.first_changed == ("one",)
    assert found.changed_children == 1
    assert [(c.group, c.before, c.after, c.children) for c in found.changes] == [
        ("MMR", "not yet", "complete", 1)
    ]


def test_the_commands_hang_together(tmp_path: Path) -> None:
    made, answered = str(tmp_path / "made.pq"), str(tmp_path / "answered.pq")
    run = CliRunner().invoke

    def ask(*words: str) -> str:
        result = run(main, ["population", *words])
        assert result.exit_code == 0, result.output
        return result.stdout

    ask("make", "500", made, "--on", "2026-11-24", "--workers", "1")
    ask("forecast", made, answered, "--on", "2026-11-24", "--workers", "1")
    coverage = msgspec.json.decode(ask("coverage", answered, "--json", "--group", "MMR"))
    calls = list(csv.DictReader(io.StringIO(ask("recall", answered, "--limit", "7"))))
    same = msgspec.json.decode(
        ask("compare", made, "us-2025", "us-2025", "--json", "--on", "2026-11-24")
    )

    assert sum(r["up_to_date"] + r["behind"] + r["not_counted"] for r in coverage["shares"]) == 500
    assert len(calls) == 7
    assert (same["children"], same["changed_children"]) == (500, 0)


def test_a_wrong_file_is_said_in_words_and_leaves_nothing(tmp_path: Path) -> None:
    (tmp_path / "text.pq").write_text("no Parquet")
    result = CliRunner().invoke(
        main, ["population", "forecast", str(tmp_path / "text.pq"), str(tmp_path / "out.pq")]
    )

    assert result.exit_code == 2
    assert "population.E001" in result.stderr
    assert not (tmp_path / "out.pq").exists()
