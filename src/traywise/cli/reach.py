"""``traywise reach``: how likely a needle ends in muscle, with the studies behind it."""

from __future__ import annotations

from pathlib import Path

import click
import msgspec

from traywise.cli.output import screen_width, writing
from traywise.equipment.reach.answer import SITES, TECHNIQUES, ReachAnswer
from traywise.equipment.reach.answer import reach as ask_reach
from traywise.equipment.reach.compare import of_100
from traywise.errors import InputError, format_fault

CAUTION = (
    "A second opinion from scans. It never replaces the length that your authority's table gives; "
    "standing orders, the product's leaflet and the clinician decide."
)


@click.command()
@click.option("--site", required=True, type=click.Choice(sorted(SITES)), help="Thigh or deltoid.")
@click.option("--age-months", required=True, type=float, help="Age in months, 4.5 allowed.")
@click.option("--weight-kg", type=float, help="Weight in kilograms, where known.")
@click.option("--length-mm", required=True, type=float, help="Needle length in millimetres.")
@click.option(
    "--angle", "angle_deg", default=90.0, show_default=True, help="Degrees between needle and skin."
)
@click.option("--technique", type=click.Choice(TECHNIQUES), default="stretched", show_default=True)
@click.option("--json", "as_json", is_flag=True, help="Print JSON, shares from 0 to 1.")
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write a picture (SVG): cross-section to scale, and reach against age.",
)
def reach(
    site: str,
    age_months: float,
    weight_kg: float | None,
    length_mm: float,
    angle_deg: float,
    technique: str,
    as_json: bool,
    plot: Path | None,
) -> None:
    """How likely a needle ends short of, in, or past the muscle of a child like this one.

    Outside what has been measured the answer is "none", without a number.
    """
    try:
        answer = ask_reach(site, age_months, weight_kg, length_mm, angle_deg, technique)
    except InputError as error:
        for fault in error.faults:
            click.echo(format_fault(fault), err=True)
        raise SystemExit(2) from None
    if plot is not None:
        _write_plot(plot, site, age_months, weight_kg, length_mm, angle_deg)
    if as_json:
        click.echo(msgspec.json.format(msgspec.json.encode(answer), indent=2).decode())
    else:
        click.echo(describe_answer(answer, length_mm, angle_deg, screen_width()))


def _write_plot(
    path: Path,
    site: str,
    age_months: float,
    weight_kg: float | None,
    length_mm: float,
    angle_deg: float,
) -> None:
    # Imported late: a plain answer needs no drawing.
    from traywise.paper.reach_picture import draw_reach_sheet

    svg = draw_reach_sheet(SITES[site], age_months, weight_kg, length_mm, angle_deg)
    with writing(path):
        path.write_text(svg, encoding="utf-8")


def describe_answer(answer: ReachAnswer, length_mm: float, angle_deg: float, width: int) -> str:
    """The answer as text for a terminal, ``width`` columns wide."""
    from traywise.paper.columns import Page

    page = Page(width)
    lines = [f"{length_mm:g} mm at {angle_deg:g}°: evidence {answer.evidence}"]
    for name, share in (
        ("short of muscle", answer.short),
        ("in muscle", answer.in_muscle),
        ("at bone depth", answer.bone_depth),
    ):
        if share is not None:
            lines.append(f"  {name:<16} {of_100(share)}")
    lines += page.run_on(answer.why)
    for study in (*answer.studies, *answer.short_only):
        shares = (study.short, study.in_muscle, study.bone_depth)
        told = " / ".join("–" if s is None else f"{100 * s:.1f}" for s in shares)
        count = "number not printed" if study.children is None else f"{study.children} children"
        lines += page.hanging("  ", f"{study.study}, {study.people} ({count}): {told} %")
    remarks = [f"Unknown: {text}" for text in answer.unknown]
    remarks += [f"Note: {text}" for text in answer.notes]
    for text in (*remarks, CAUTION):
        lines += page.run_on(text)
    return "\n".join(lines)
