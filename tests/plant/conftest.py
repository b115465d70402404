"""The plant before its first plan: installed and staffed, nothing described or approved."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client

from plant.people.models import Person


@pytest.fixture
def browser_of(installed: Any) -> Callable[[Person], Client]:
    """`browser_of(installed.odile)`: a browser with the person signed in by password, before any plan."""
    return _browser


def _browser(person: Person) -> Client:
    from records.people import sessions

    client = Client()
    session: Any = client.session
    sessions.begin(session, person, None, "password")
    session[sessions.SEEN] = datetime(2100, 1, 1, tzinfo=UTC).timestamp()
    session.save()
    return client
