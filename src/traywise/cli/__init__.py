"""The commands; this room holds no clinical rule.

Every command lives in a file of its own and is imported only when it is called,
so that a quick command does not pay for a slow one's libraries.
"""

from __future__ import annotations

import sys
from importlib import import_module
from io import TextIOWrapper

import click

from traywise import __version__
from traywise.errors import TraywiseError

COMMANDS = {
    "forecast": "What counts, what is due, what comes next, for each child of a file.",
    "tray": "The tray of one child: products, sites, needles, order, labels.",
    "session": "All trays of a session, planned together against the shelf.",
    "shelf": "What lies on the shelf, what ends soon, and for whom it could be used.",
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

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does; for an unknown command the nearest is named."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from difflib import get_close_matches  # late: only a slip needs it

            near = get_close_matches(args[0].casefold(), COMMANDS, n=1)
            hint = f" Did you mean {near[0]}?" if near else f" Commands: {', '.join(COMMANDS)}."
            ctx.fail(f"There is no command {args[0]!r}.{hint}")
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; what it did not foresee of files and faults is told in words."""
        _write_whatever_the_terminal()
        try:
            return super().invoke(ctx)
        except TraywiseError as error:
            click.echo(error, err=True)
            raise SystemExit(2) from None
        except BrokenPipeError:  # the reader, such as head, has enough; click ends quietly
            raise
        except OSError as error:
            where = error.filename or "The output"
            click.echo(f"{where} cannot be used: {error.strerror or error}.", err=True)
            raise SystemExit(2) from None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def _write_whatever_the_terminal() -> None:
    """A sign that the terminal's encoding lacks becomes "?", and the rest is still shown."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper) and stream.encoding.lower() not in ("utf-8", "ascii"):
            stream.reconfigure(errors="replace")


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="traywise")
def main() -> None:
    """From a child's vaccination record to a tray that is right.

    Decision support, not a prescriber: check the current schedule of your authority
    and each product's leaflet; local law, standing orders and the licensed clinician decide.
    """
