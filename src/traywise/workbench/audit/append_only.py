"""Migration operations: the database itself refuses to change or delete an entry."""

from __future__ import annotations

from typing import Any

from django.db import migrations

_POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION traywise_append_only() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION 'append-only: % on % refused', TG_OP, TG_TABLE_NAME; END;
$$ LANGUAGE plpgsql
"""


def _guard(table: str) -> Any:
    def apply(apps: Any, schema_editor: Any) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(_POSTGRES_FUNCTION, params=None)
            schema_editor.execute(
                f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table} "
                "FOR EACH ROW EXECUTE FUNCTION traywise_append_only()"
            )
            return
        for verb in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, 'append-only: {verb} on {table} refused'); END"
            )

    return apply


def append_only(table: str) -> migrations.RunPython:
    """Refuse UPDATE and DELETE on ``table``, on SQLite and on PostgreSQL."""
    return migrations.RunPython(_guard(table), migrations.RunPython.noop)


def chain_head(name: str) -> migrations.RunPython:
    """The first head of a chain, before any entry."""

    def apply(apps: Any, schema_editor: Any) -> None:
        apps.get_model("audit", "ChainHead").objects.get_or_create(name=name)

    return migrations.RunPython(apply, migrations.RunPython.noop)
