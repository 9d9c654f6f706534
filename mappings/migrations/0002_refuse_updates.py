"""On PostgreSQL the database itself refuses to change what is written once; SQLite loses triggers when tables are rebuilt."""

from typing import Any

from django.db import migrations

TABLES = ("document", "blob", "maprevision", "templaterevision", "renderinput", "audit")

FUNCTION = """
create function mappings_refuse_update() returns trigger language plpgsql as $$
begin
    raise exception using message = 'rows of ' || tg_table_name || ' are written once', errcode = 'restrict_violation';
end $$
"""


def add(apps: Any, schema_editor: Any) -> None:
    if schema_editor.connection.vendor != "postgresql":
        return
    schema_editor.execute(FUNCTION)
    for table in TABLES:
        schema_editor.execute(
            f"create trigger refuse_update before update on mappings_{table} for each row execute function mappings_refuse_update()"
        )


def remove(apps: Any, schema_editor: Any) -> None:
    if schema_editor.connection.vendor != "postgresql":
        return
    for table in TABLES:
        schema_editor.execute(f"drop trigger refuse_update on mappings_{table}")
    schema_editor.execute("drop function mappings_refuse_update()")


class Migration(migrations.Migration):
    dependencies = [("mappings", "0001_tables")]
    operations = [migrations.RunPython(add, remove)]
