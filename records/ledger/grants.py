"""What the role of the running server may do on PostgreSQL; migrations run as the tables' owner, another role.

The owner of a table can always disable its triggers. A role that is not the owner and has SELECT and INSERT only can
neither change a record nor remove what guards it.
"""

from __future__ import annotations

from django.apps import apps
from django.db import connection

from records.ledger.registry import append_only_tables


def statements(role: str) -> list[str]:
    """The grants, in order; running them again changes nothing. New tables need them again after a migration."""
    name = connection.ops.quote_name(role.replace('"', ""))
    records = {model._meta.db_table for model in append_only_tables()}
    working = {model._meta.db_table for model in apps.get_models(include_auto_created=True) if model._meta.managed}
    return [
        f"REVOKE ALL ON ALL TABLES IN SCHEMA public FROM {name}",
        f"REVOKE CREATE ON SCHEMA public FROM {name}",
        f"GRANT USAGE ON SCHEMA public TO {name}",
        *(f"GRANT SELECT, INSERT ON {_quoted(table)} TO {name}" for table in sorted(records)),
        *(f"GRANT SELECT, INSERT, UPDATE, DELETE ON {_quoted(table)} TO {name}" for table in sorted(working - records)),
        f"GRANT SELECT ON {_quoted('django_migrations')} TO {name}",
        f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {name}",
    ]


def role_exists(role: str) -> bool:
    """Whether the cluster knows the role."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [role])
        return cursor.fetchone() is not None


def _quoted(table: str) -> str:
    return connection.ops.quote_name(table)
