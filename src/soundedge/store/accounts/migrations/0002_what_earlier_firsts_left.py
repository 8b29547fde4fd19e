"""Bring an installation that began under an earlier 0001 to the tables of today.

The first migration was edited in place three times before this one; Django counts it as applied and looks no further. So the
tables themselves are asked what they have. From here on an old migration is never edited: the next one is added.
"""

from django.db import migrations

ADDED = (("SignedIn", "seen_at"), ("Device", "photos_on"), ("Device", "photo_bytes"))
DROPPED = (("Device", "seen_at"), ("Device", "clock_offset_s"))


def bring(apps, schema_editor):
    """Add the columns that are missing, drop those that nobody reads any more."""
    for name, field in ADDED:
        model = apps.get_model("accounts", name)
        if field not in columns(schema_editor, model):
            schema_editor.add_field(model, model._meta.get_field(field))
    for name, column in DROPPED:
        model = apps.get_model("accounts", name)
        if column in columns(schema_editor, model):
            quoted = schema_editor.quote_name
            schema_editor.execute(f"ALTER TABLE {quoted(model._meta.db_table)} DROP COLUMN {quoted(column)}")


def columns(schema_editor, model):
    """The columns that a table has now."""
    connection = schema_editor.connection
    with connection.cursor() as cursor:
        return {column.name for column in connection.introspection.get_table_description(cursor, model._meta.db_table)}


class Migration(migrations.Migration):
    dependencies = [("accounts", "0001_initial")]
    operations = [migrations.RunPython(bring, migrations.RunPython.noop)]
