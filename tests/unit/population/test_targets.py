"""Where population files may be written, and groups named in either case. Children invented."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

pytest.importorskip("pyarrow")

from click.testing import CliRunner

from traywise.cli import main
from traywise.errors import InputError
from traywise.population.cluster import forecast_many
from traywise.population.make import make_file
from traywise.population.target import check_target

ON = date(2026, 11, 24)


def make(path: Path) -> Path:
    make_file(3, path, 1, ON, 1, lambda _: None)
    return path


def codes(refused: pytest.ExceptionInfo[InputError]) -> list[str]:
    return [fault.code for fault in refused.value.faults]


def test_an_ordinary_file_may_be_written_new_or_anew(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    check_target(tmp_path / "new.parquet", [tmp_path / "in.parquet"])
    check_target(Path("new.parquet"))
    (tmp_path / "old.parquet").write_bytes(b"old")
    check_target(tmp_path / "old.parquet", [tmp_path / "in.parquet"])


@pytest.mark.parametrize("target", ["-", "/dev/null", ".", "no-such-folder/out.parquet"])
def test_what_is_no_file_is_refused_with_its_remedy(tmp_path: Path, monkeypatch, target: str):
    monkeypatch.chdir(tmp_path)
    for ask in (check_target, lambda path: make_file(3, path, 1, ON, 1, lambda _: None)):
        with pytest.raises(InputError) as refused:
            ask(Path(target))
        assert codes(refused) == ["population.E022"]
    assert list(tmp_path.iterdir()) == []


def test_what_is_read_is_never_written_over(tmp_path: Path):
    children = make(tmp_path / "children.parquet")
    before = children.read_bytes()
    link = tmp_path / "link.parquet"
    link.symlink_to(children)
    for target in (children, link, tmp_path / "." / "children.parquet"):
        with pytest.raises(InputError) as refused:
            check_target(target, [children])
        assert codes(refused) == ["population.E023"]
    with pytest.raises(InputError) as refused:
        forecast_many([children], tmp_path, "us-2025", ON)
    assert codes(refused) == ["population.E023"]
    assert children.read_bytes() == before


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("answered")
    children = make(folder / "children.parquet")
    out = folder / "answers.parquet"
    asked = ["population", "forecast", str(children), str(out), "--on", str(ON)]
    assert CliRunner().invoke(main, asked).exit_code == 0
    return out


@pytest.mark.parametrize("command", ["coverage", "recall"])
def test_a_group_is_found_in_either_case_and_counted_once(answered: Path, command: str):
    def ask(*groups: str) -> str:
        named = [word for group in groups for word in ("--group", group)]
        result = CliRunner().invoke(main, ["population", command, str(answered), *named])
        assert result.exit_code == 0, result.output
        return result.stdout

    assert ask("dtap", "MMR") == ask("DTaP", "mmr") == ask("DTaP", "dtap", "MMR")
    assert ask("dtap") != ask()


@pytest.mark.parametrize("command", ["coverage", "recall"])
def test_an_unknown_group_is_told_with_the_nearest_and_all(answered: Path, command: str):
    asked = ["population", command, str(answered), "--group", "MRM", "--group", "qqq"]
    result = CliRunner().invoke(main, asked)
    assert result.exit_code == 2
    assert 'There is no group "MRM". Did you mean MMR? Groups: HepB, RV, DTaP' in result.stderr
    assert 'There is no group "qqq". Groups: HepB' in result.stderr


def test_a_file_that_is_no_parquet_is_told_with_what_to_do(tmp_path: Path):
    (tmp_path / "text.parquet").write_text("id,born\n")
    for name in ("text.parquet", "nowhere.parquet"):
        asked = ["population", "coverage", str(tmp_path / name)]
        result = CliRunner().invoke(main, asked)
        assert result.exit_code == 2
        assert "population.E001" in result.stderr
        assert "Check the name, or write the file anew." in result.stderr
    assert "No such file" in result.stderr
