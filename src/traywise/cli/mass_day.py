"""``traywise mass-day``: what to take to a school or outreach day."""

from __future__ import annotations

import click
import msgspec

from traywise.cli.option_types import Number
from traywise.cli.output import screen_width
from traywise.rulebook.vaccines import vaccines
from traywise.session.massday import MassDay, MassProduct, plan_mass_day


@click.command("mass-day")
@click.option("--children", required=True, type=click.IntRange(0, 100_000), help="Expected in all.")
@click.option(
    "--product",
    "products",
    multiple=True,
    required=True,
    metavar="KEY:DOSES[:SHARE]",
    help="Vaccine, doses in a vial, share of the children who need it: MR:10:0.8.",
)
@click.option("--posts", default=1, show_default=True, type=click.IntRange(1, 1000))
@click.option("--attendance", default=1.0, show_default=True, type=Number(0, 1))
@click.option(
    "--certainty",
    default=0.95,
    show_default=True,
    type=Number(0, 1, min_open=True, max_open=True),
    help="That no post runs out.",
)
@click.option("--box-litres", type=Number(min=0, min_open=True), help="Of a cool box.")
@click.option("--json", "as_json", is_flag=True, help="JSON instead of text.")
def mass_day(
    children: int,
    products: tuple[str, ...],
    posts: int,
    attendance: float,
    certainty: float,
    box_litres: float | None,
    as_json: bool,
) -> None:
    """Vials to take along, expected waste, cool-box volume, and what more posts would cost."""
    asked = [_product(text) for text in products]
    twice = {one.vaccine for one in asked if sum(one.vaccine == two.vaccine for two in asked) > 1}
    if twice:
        raise click.UsageError(f"{', '.join(sorted(twice))} stands twice. Give each product once.")
    plan = plan_mass_day(
        children,
        asked,
        posts=posts,
        attendance=attendance,
        certainty=certainty,
        box_litres=box_litres,
    )
    if as_json:
        click.echo(msgspec.json.encode(plan))
    else:
        from traywise.paper.columns import Page

        page = Page(screen_width())
        for line in in_words(plan, children, posts, attendance).splitlines():
            text = line.lstrip(" ")
            click.echo("\n".join(page.hanging(line[: len(line) - len(text)], text)))


def _product(text: str) -> MassProduct:
    key, _, rest = text.partition(":")
    doses, _, share = rest.partition(":")
    if key not in vaccines():
        known = ", ".join(vaccines())
        raise click.UsageError(f'"{key}" is no vaccine key. Take one of: {known}.')
    try:
        found = MassProduct(vaccine=key, vial_doses=int(doses), share=float(share or 1))
    except ValueError:
        raise click.UsageError(
            f'"{text}" is not understood. Write KEY:DOSES or KEY:DOSES:SHARE, such as MR:10:0.8.'
        ) from None
    if not (1 <= found.vial_doses <= 1000 and 0 <= found.share <= 1):
        raise click.UsageError(
            f'"{text}": a vial holds 1 to 1000 doses, and a share lies between 0 and 1.'
        )
    return found


def in_words(plan: MassDay, children: int, posts: int, attendance: float) -> str:
    """The load, product by product, then boxes and the effect of more posts."""
    at = f"{posts} post{'' if posts == 1 else 's'}"
    lines = [f"{children} children expected, {attendance:.0%} come, {at}", ""]
    for taking in plan.taking:
        volume = "volume not published" if taking.litres is None else f"{taking.litres:.2f} L"
        lines.append(
            f"  {taking.name}: take {_count(taking.vials, 'vial')} "
            f"({_count(taking.doses, 'dose')}), {volume}; "
            f"about {taking.expected_children:.0f} children, waste {taking.waste:.1%}"
        )
        extras = [
            _count(count, what)
            for count, what in (
                (taking.diluents, "diluent"),
                (taking.mixing_syringes, "mixing syringe"),
                (taking.syringes, "syringe"),
            )
            if count
        ]
        lines += [f"    with {', '.join(extras)}."] if extras else []
        lines += [f"    Note: {taking.note}."] if taking.note else []
        waste = ", ".join(f"{n}: {share:.1%}" for n, share in plan.by_posts[taking.vaccine])
        lines.append(f"    waste by number of posts: {waste}")
    if plan.litres is not None:
        boxes = "" if plan.boxes is None else f", {plan.boxes} cool boxes"
        lines += ["", f"Together {plan.litres:.2f} L in inner boxes{boxes}."]
    lines.append(f"Safety boxes for used syringes: {plan.safety_boxes}.")
    return "\n".join(lines)


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
