"""``traywise serve``: the workbench on this machine."""

from __future__ import annotations

import click


@click.command()
@click.option("--port", default=8765, show_default=True, help="Port; 0 takes a free one.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--demo", is_flag=True, help="A new database with the invented demo clinic.")
def serve(port: int, host: str, demo: bool) -> None:
    """Open the workbench: the clinic's page, from the roster to the record.

    The data lie in the folder TRAYWISE_HOME, or in the database TRAYWISE_DATABASE.
    The first page makes the first account.
    """
    from traywise.workbench import serving

    try:
        serving.prepare(demo=demo)
        serving.serve(host, port, lambda text: click.echo(text))
    except KeyboardInterrupt:
        click.echo("Closed.")
    except OSError as error:
        raise click.ClickException(
            f"Port {port} cannot be opened: {error.strerror or error}. Try --port 0."
        ) from error
