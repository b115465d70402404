"""Every route × every role × anonymous, against the one table of rights."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from plant.people.models import Role
from records.ledger.models import Entry
from records.people.rights import INSPECTOR_POSTS, PUBLIC, RIGHTS
from records.traces import incoming
from records.traces.models import TraceUpload
from tests.conftest import NOW, Plant
from tests.pages.routes import Route, routes
from tests.records.traces.made_traces import kept, samples

pytestmark = pytest.mark.once  # what a page answers to a body is the same on both databases

ROUTES = routes()
WHO = {
    Role.OPERATOR: "ines",
    Role.SUPERVISOR: "wren",
    Role.QUALIFIED: "odile",
    Role.OWNER: "hanne",
    Role.MAINTENANCE: "piet",
    Role.INSPECTOR: "guest",
    Role.ADMINISTRATOR: "admin",
}
HUGE = {"IntConverter": 10**30, "StringConverter": "x" * 3000, "SlugConverter": "x" * 3000, "PathConverter": "x" * 3000}

each_route = pytest.mark.parametrize("route", ROUTES, ids=[one.name for one in ROUTES])


def known(plant: Plant) -> dict[str, Any]:
    """Things that exist, by the names that routes give their parts."""
    kept(samples(NOW - timedelta(minutes=5), [1620, 1621, 1622]))
    return {
        "instrument": "T-12",
        "upload": sent_file(plant).id,
        "person_id": plant.people.ines.id,
        "tablet_id": plant.tablet.id,
        "code": "silo-a",
        "vessel": "silo-a",
        "table": "vessel",
        "kind": "PIN",
        "day": "2026-03-03",
        "plant_day": "2026-03-03",
        "monitoring": "silo-shift",
        "key": "silo-shift",
        "subject": "silo-a",
    }


def sent_file(plant: Plant) -> TraceUpload:
    """A recorder's file that waits for somebody to say what its columns are."""
    rows = [f"2026-03-03 09:{minute:02}:00,162.{minute % 10}" for minute in range(20)]
    data = "\n".join(["Time,T-12 °F", *rows, ""]).encode()
    return incoming.receive(plant.actor("tomas"), "press.csv", [data])


def test_every_role_is_walked() -> None:
    """A role added later must join this test."""
    assert set(WHO) == set(Role)


def test_table_names_only_routes_that_exist() -> None:
    """A line for a page that is gone would mislead whoever reads the table."""
    assert set(RIGHTS) <= {one.name for one in ROUTES}


@each_route
def test_route_stands_in_the_table(route: Route) -> None:
    """Each route has a name and a line in the table of rights."""
    assert not route.name.endswith(":") and route.name in RIGHTS


@each_route
def test_route_opens_to_whom_the_table_says(route: Route, plant: Plant, client_for: Callable[..., Client]) -> None:
    """GET: allowed roles are let through, all others get 403, strangers are sent to sign in; nothing is written."""
    address, allowed, count = route.address(known(plant)), RIGHTS.get(route.name, frozenset()), Entry.objects.count()
    answer = Client().get(address)
    to_sign_in = answer.status_code == 302 and answer.headers["Location"].startswith("/sign-in/?")
    assert to_sign_in == (allowed != PUBLIC) and answer.status_code < 500
    for role, name in WHO.items():
        answer = client_for(getattr(plant.people, name)).get(address)
        assert (answer.status_code != 403) == (allowed == PUBLIC or role in allowed), (role, answer.status_code)
        assert answer.status_code < 500
    assert Entry.objects.count() == count


@each_route
def test_empty_post_is_never_an_error(route: Route, plant: Plant, client_for: Callable[..., Client]) -> None:
    """POST without a field: a page with a sentence, or a refusal; roles are kept apart as for GET."""
    address, allowed = route.address(known(plant)), RIGHTS.get(route.name, frozenset())
    answer = Client().post(address)
    if allowed != PUBLIC:
        assert answer.status_code == 302 and answer.headers["Location"].startswith("/sign-in/?")
    for role, name in WHO.items():
        answer = client_for(getattr(plant.people, name)).post(address)
        assert answer.status_code < 500, role
        only_reads = role == Role.INSPECTOR and route.name not in INSPECTOR_POSTS
        if allowed != PUBLIC and (role not in allowed or only_reads):
            assert answer.status_code == 403, role


@each_route
@pytest.mark.parametrize("size", ["unknown", "huge"])
def test_foreign_id_is_a_plain_page(route: Route, size: str, plant: Plant, client_for: Callable[..., Client]) -> None:
    """Ids of nothing, and ids beyond any column: a plain page, for reading and for writing."""
    if not route.parts:
        return
    allowed = RIGHTS.get(route.name, frozenset())
    who = next((name for role, name in WHO.items() if allowed == PUBLIC or role in allowed), "wren")
    client = client_for(getattr(plant.people, who))
    parts = {name: HUGE[kind] for name, kind in route.parts if kind in HUGE} if size == "huge" else {}
    for ask in (client.get, client.post):
        assert ask(route.address(parts)).status_code < 500
