"""What stands on the tables of records and is not the daybook's: it could drop, add or hide rows, and no guard sees it.

A trigger that answers every INSERT with RAISE(IGNORE) (PostgreSQL: a rule that does NOTHING instead) lets a reading be
acknowledged that was never kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage
from django.core.checks import Warning as CheckWarning
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from records.ledger import triggers

# Triggers, rules (a view in a table's place is one), row security, and tables whose rows show among a table's own.
_FOREIGN = """
    WITH ours AS (
        SELECT oid, relname, relrowsecurity FROM pg_class
        WHERE oid = ANY(SELECT to_regclass(one) FROM unnest(%(tables)s::text[]) one)
    )
    SELECT format('the trigger %%s on %%s', tgname, relname) FROM pg_trigger JOIN ours ON tgrelid = ours.oid
        WHERE NOT tgisinternal AND tgname <> ALL(%(ours)s::text[])
    UNION ALL SELECT format('the rule %%s on %%s', rulename, relname) FROM pg_rewrite JOIN ours ON ev_class = ours.oid
    UNION ALL SELECT format('row security on %%s', relname) FROM ours WHERE relrowsecurity
    UNION ALL SELECT format('the table %%s, a part of %%s,', inhrelid::regclass, relname)
        FROM pg_inherits JOIN ours ON inhparent = ours.oid
"""


def foreign(connection: BaseDatabaseWrapper) -> list[str]:
    """What stands on our tables and is not ours: it could drop, add or hide rows behind the daybook's back."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'")
            ours = triggers.statements(connection.vendor)
            return sorted(f"the trigger {name} on {table}" for name, table in cursor.fetchall() if name not in ours)
        tables = [triggers.quoted(one) for one in triggers.tables()]
        cursor.execute(_FOREIGN, {"tables": tables, "ours": list(triggers.statements("postgresql"))})
        found = sorted(what for (what,) in cursor.fetchall())
        cursor.execute("SHOW session_replication_role")
        (role,) = cursor.fetchone()
    if role != "origin":
        found.append(f"the setting session_replication_role = {role} (no trigger acts under it)")
    return found


def foreign_check(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """System check: nothing else stands there. A warning, as that of the triggers."""
    found: list[CheckMessage] = []
    for using in databases or []:
        connection = connections[using]
        if triggers.tables() <= set(connection.introspection.table_names()) and (others := foreign(connection)):
            found.append(
                CheckWarning(
                    f"On the tables of records in database {using!r} stands what is not the daybook's: "
                    f"{'; '.join(others[:3])}{' …' if others[3:] else ''}",
                    hint="Find out who put it there and take it away: it could drop or hide records. Then run "
                    "`manage.py verify`.",
                    id="records.W002",
                )
            )
    return found
