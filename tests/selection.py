"""Which tests belong to which run: a pytest plugin that tests/conftest.py names.

sqlite_only and postgres_only tests are left out on the other engine. On the second run of the whole suite
(manage.py test sets DAYBOOK_SECOND_RUN) tests marked once are left out too. pytest counts them as deselected.
"""

from __future__ import annotations

import os
from collections.abc import Mapping

import pytest

AGAIN = "DAYBOOK_SECOND_RUN"


def left_out(environment: Mapping[str, str]) -> set[str]:
    """The markers whose tests do not run under these settings."""
    on_postgres = environment.get("DATABASE_URL", "").startswith(("postgres://", "postgresql://"))
    return {"sqlite_only" if on_postgres else "postgres_only"} | (
        {"once"} if environment.get(AGAIN) else set()
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Takes the tests of other runs out of this one."""
    unwanted = left_out(os.environ)
    kept = [item for item in items if not any(item.get_closest_marker(name) for name in unwanted)]
    if len(kept) < len(items):
        config.hook.pytest_deselected(items=[item for item in items if item not in set(kept)])
        items[:] = kept
