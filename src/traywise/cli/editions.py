"""``traywise editions``: which schedules there are, what they say, how they differ."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import click
import msgspec

from traywise.cli.option_types import DAY
from traywise.cli.output import screen_width
from traywise.errors import RulebookError, format_fault
from traywise.paper.edition_text import compare_text, group_text, list_text
from traywise.rulebook.check_files import check_files
from traywise.rulebook.compare import compare as compare_editions
from traywise.rulebook.edition import edition_names, load_edition, overlay_names, overlay_path
from traywise.rulebook.overlay import read_head
from traywise.rulebook.published import Edition
from traywise.rulebook.rows import OverlayHead
from traywise.rulebook.show import group_in_words
from traywise.rulebook.tables import describe_source

JSON = click.option("--json", "as_json", is_flag=True, help="JSON instead of text.")


@click.group()
def editions() -> None:
    """List, show, compare and check published schedules.

    An edition is named by its key, with overlays by +: us-2025+aap-2026. An overlay may
    also be a file: us-2025+./clinic.toml. One that fits a single edition may stand alone.
    """


@editions.command("list")
@click.option("--on", type=DAY, help="Out of date on this day? Default: today.")
@JSON
def list_command(on: datetime | None, as_json: bool) -> None:
    """Every edition and the overlays that fit on it."""
    day = on.date() if on else date.today()
    found = [load_edition(name) for name in edition_names()]
    overlays = _overlays()
    if not as_json:
        click.echo(list_text(found, overlays, day, width=screen_width()))
        return
    _json(
        [
            {
                **msgspec.to_builtins(edition.head),
                "out_of_date": edition.is_out_of_date(day),
                "overlays": [
                    msgspec.to_builtins(one) for one in overlays if edition.head.key in one.on
                ],
            }
            for edition in found
        ]
    )


@editions.command()
@click.argument("edition")
@click.argument("group")
@JSON
def show(edition: str, group: str, as_json: bool) -> None:
    """GROUP of EDITION as the table a clinician knows."""
    loaded = _load(edition)
    rows = group_in_words(loaded, _group(loaded, group))
    if as_json:
        _json(
            {
                "edition": loaded.name,
                "published": loaded.head.published,
                "publisher": loaded.head.publisher,
                "warnings": loaded.warnings,
                "group": group,
                "rows": [
                    {**msgspec.to_builtins(row), "source_text": describe_source(row.source)}
                    for row in rows
                ],
            }
        )
        return
    click.echo(group_text(loaded, _group(loaded, group), rows, width=screen_width()))


@editions.command()
@click.argument("first")
@click.argument("second")
@click.argument("group", required=False)
@JSON
def compare(first: str, second: str, group: str | None, as_json: bool) -> None:
    """What SECOND says differently from FIRST, row by row, in words; of one GROUP or of all."""
    one, other = _load(first), _load(second)
    known = {*(g.key for g in one.groups), *(g.key for g in other.groups)}
    if group is not None and group not in known:
        raise click.UsageError(f'"{group}" is a group of neither: {", ".join(sorted(known))}.')
    changes = compare_editions(one, other, group)
    if as_json:
        _json(
            {
                "first": one.name,
                "second": other.name,
                "warnings": list(dict.fromkeys((*one.warnings, *other.warnings))),
                "changes": [msgspec.to_builtins(change) for change in changes],
            }
        )
        return
    click.echo(compare_text(one, other, changes, width=screen_width()))


@editions.command()
@click.argument("path", type=click.Path(exists=True, path_type=Path))
@JSON
def check(path: Path, as_json: bool) -> None:
    """All faults of an overlay file, a group file or an edition's folder at PATH.

    Exit status: 0 no fault, 1 faults, 2 wrong command line.
    """
    what, faults = check_files(path)
    if as_json:
        _json({"checked": what, "faults": [msgspec.to_builtins(fault) for fault in faults]})
    else:
        for fault in faults:
            click.echo(format_fault(fault))
        count = f"{len(faults)} fault{'' if len(faults) == 1 else 's'}"
        click.echo(f"{what}: {count if faults else 'no fault found'}.")
    raise SystemExit(1 if faults else 0)


def _load(name: str) -> Edition:
    try:
        return load_edition(name)
    except RulebookError as error:
        shown = "\n".join(format_fault(fault) for fault in error.faults)
        raise click.UsageError(f"The edition cannot be used.\n{shown}") from None


def _group(edition: Edition, group: str) -> str:
    known = {one.key.casefold(): one.key for one in edition.groups}
    if group.casefold() not in known:
        raise click.UsageError(
            f'"{group}" is no group of {edition.name}. Groups: {", ".join(known.values())}.'
        )
    return known[group.casefold()]


def _overlays() -> list[OverlayHead]:
    heads = (read_head(overlay_path(name))[0] for name in overlay_names())
    return [head for head in heads if head is not None]


def _json(value: object) -> None:
    click.echo(msgspec.json.format(msgspec.json.encode(value), indent=2).decode())
