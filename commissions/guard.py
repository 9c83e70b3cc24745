"""What the database itself guards with triggers: an issued invoice stays as it is.

Its number, days, amounts, words and lines are refused any other value, whoever asks. A
whole invoice may go with its studio, and an import adds lines to issued ones, so neither
deleting nor adding is guarded here.

As in `firing.guard`, triggers are dropped before every migrate and put back after it.
"""

from django.db import connections

INVOICES, LINES = "commissions_invoice", "commissions_invoiceline"
MESSAGE = "issued_invoice_stays"
FROZEN = (
    "client_id",
    "commission_id",
    "kiln_user_id",
    "kiln_month",
    "kind",
    "year",
    "serial",
    "number",
    "title",
    "message",
    "currency",
    "net",
    "tax",
    "rounding",
    "total",
    "issued_at",
    "issued_date",
    "due_date",
    "paper",
)
NAMES = {INVOICES: "issued_invoice_stays", LINES: "issued_invoice_line_stays"}

CHANGED_ON_SQLITE = " OR ".join(f"NEW.{name} IS NOT OLD.{name}" for name in FROZEN)
ON_SQLITE = {
    INVOICES: f"""
CREATE TRIGGER {NAMES[INVOICES]} BEFORE UPDATE ON {INVOICES}
WHEN OLD.issued_at IS NOT NULL AND ({CHANGED_ON_SQLITE})
BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END
""",
    LINES: f"""
CREATE TRIGGER {NAMES[LINES]} BEFORE UPDATE ON {LINES}
WHEN EXISTS (
    SELECT 1 FROM {INVOICES} WHERE id = OLD.invoice_id AND issued_at IS NOT NULL
)
BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END
""",  # noqa: S608 - made of this module's own words
}

CHANGED_ON_POSTGRESQL = " OR ".join(
    f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in FROZEN
)
FUNCTIONS = f"""
CREATE OR REPLACE FUNCTION {NAMES[INVOICES]}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.issued_at IS NOT NULL AND ({CHANGED_ON_POSTGRESQL}) THEN
        RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE OR REPLACE FUNCTION {NAMES[LINES]}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT 1 FROM {INVOICES} WHERE id = OLD.invoice_id AND issued_at IS NOT NULL
    ) THEN
        RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$;
"""  # noqa: S608 - made of this module's own words


def drop_triggers(*, using: str, **_: object) -> None:
    """Drop the triggers, so that migrations may change the tables."""
    connection = connections[using]
    with connection.cursor() as cursor:
        there = connection.introspection.table_names(cursor)
        for table, name in NAMES.items():
            if connection.vendor == "sqlite":
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")
            elif table in there:
                cursor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}")


def create_triggers(*, using: str, **_: object) -> None:
    """Create the triggers, if the tables exist."""
    drop_triggers(using=using)
    connection = connections[using]
    with connection.cursor() as cursor:
        if not NAMES.keys() <= set(connection.introspection.table_names(cursor)):
            return
        if connection.vendor == "sqlite":
            for text in ON_SQLITE.values():
                cursor.execute(text)
            return
        cursor.execute(FUNCTIONS)
        for table, name in NAMES.items():
            cursor.execute(
                f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} "
                f"FOR EACH ROW EXECUTE FUNCTION {name}()"
            )
