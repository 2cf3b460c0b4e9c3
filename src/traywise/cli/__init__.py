"""The commands; this room holds no clinical rule.

Every command lives in a file of its own and is imported only when it is called,
so that a quick command does not pay for a slow one's libraries.
"""

from __future__ import annotations

from importlib import import_module

import click

from traywise import __version__

COMMANDS = {
    "forecast": "What counts, what is due, what comes next, for each child of a file.",
    "tray": "The tray of one child: products, sites, needles, order, labels.",
    "session": "All trays of a session, planned together against the shelf.",
    "mass-day": "What to take to a school or outreach day.",
    "demo": "Plan the demo session and write its sheets.",
    "editions": "List, show, compare and check published schedules.",
    "reach": "How likely a needle ends in muscle: a second opinion with its evidence.",
    "needles": "Needles, syringes and the rest that a clinic will need.",
    "population": "Invent, forecast and compare populations.",
    "serve": "The workbench: the clinic's own page.",
    "workbench": "Back up and restore the workbench.",
}


class LazyGroup(click.Group):
    """A group that imports a command when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        name = cmd_name.replace("-", "_")
        command = getattr(import_module(f"traywise.cli.{name}"), name)
        assert isinstance(command, click.Command)  # noqa: S101  our own modules only
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="traywise")
def main() -> None:
    """From a child's vaccination record to a tray that is right.

    Decision support, not a prescriber: check the current schedule of your authority
    and each product's leaflet; local law, standing orders and the licensed clinician decide.
    """
