"""The page of live recorders, and where gateways hand samples in."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from records.ledger.models import Entry
from records.ledger.verify import verify
from records.live.models import FeedAct, GatewayAct, GatewayInstrument, LiveFeed, RefusedMessage, StagedSample
from tests.conftest import NOW, Plant
from tests.records.live.made import came, fed

pytestmark = pytest.mark.django_db
Clients = Callable[..., Client]


def enrolled(client: Client, name: str = "Dairy gateway", instruments: tuple[str, ...] = ("T-20",)) -> str:
    """A gateway's token, as its one page shows it."""
    said = {"form_id": str(uuid.uuid4()), "name": name, "instruments": instruments}
    answer = client.post(reverse("records:live-gateway"), said)
    found = re.search(r"<code>([\w-]+)</code>", answer.content.decode())
    assert found is not None, answer.content.decode()[-800:]
    return found[1]


def hand_in(body: Any, token: str, client: Client | None = None) -> HttpResponse:
    """What a gateway sends."""
    data = body if isinstance(body, (str, bytes)) else json.dumps(body)
    answer: HttpResponse = (client or Client()).post(  # type: ignore[assignment]
        "/intake/", data, content_type="application/json", headers={"Authorization": f"Bearer {token}"}
    )
    return answer


def test_a_gateway_hands_samples_in_once(plant: Plant, client_for: Clients) -> None:
    """Its token is the right, and is kept as a hash alone; the same again adds nothing; a row refused is named."""
    fed()
    token = enrolled(client_for(plant.people.admin))
    assert token not in str(GatewayAct.objects.get().__dict__) and len(token) > 40
    rows = [
        {"channel": "plant/silo-a", "at": (NOW - timedelta(seconds=at)).isoformat(), "value": 40.1} for at in range(3)
    ]
    first = hand_in([*rows, {"channel": "plant/silo-a", "value": "warm"}, {"channel": "nobody", "value": 1}, 7], token)
    assert first.status_code == 200
    assert json.loads(first.content) == {
        "new": 3,
        "known": 0,
        "refused": [
            {"row": 4, "why": "the value is no number"},
            {"row": 5, "why": "nobody has said which instrument this is"},
            {"row": 6, "why": "each sample is an object with channel, at and value"},
        ],
    }
    assert json.loads(hand_in(rows, token).content) == {"new": 0, "known": 3, "refused": []}
    assert StagedSample.objects.count() == 3 and RefusedMessage.objects.count() == 3


def test_without_a_token_nothing_is_taken(plant: Plant, client_for: Clients) -> None:
    """None, a wrong one, a revoked one; and a browser that is signed in is no gateway."""
    fed()
    admin = client_for(plant.people.admin)
    token = enrolled(admin)
    row = [{"channel": "plant/silo-a", "value": 40}]
    for wrong in ("", "x", token[:-1], "a" * 100_000):
        assert hand_in(row, wrong).status_code == 401
    assert admin.post("/intake/", json.dumps(row), content_type="application/json").status_code == 401
    assert hand_in(row, token).status_code == 200
    gateway = GatewayAct.objects.get()
    admin.post(reverse("records:live-gateway-revoke", args=[gateway.gateway]), {"form_id": str(uuid.uuid4())})
    assert hand_in(row, token).status_code == 401 and StagedSample.objects.count() == 1
    assert Client().get("/intake/").status_code == 405


@pytest.mark.parametrize(
    ("body", "status"),
    [(b"\xff", 400), ("", 400), ("{", 400), ("[" * 50_000, 400), ("[1]", 200), ("nonsense", 400), ("[]", 200)],
    ids=range(7),
)
def test_a_body_that_is_no_list_is_refused_whole(body: Any, status: int, plant: Plant, client_for: Clients) -> None:
    """With a reason, and nothing is kept."""
    fed()
    answer = hand_in(body, enrolled(client_for(plant.people.admin)))
    assert answer.status_code == status and not StagedSample.objects.exists()


def test_a_body_that_is_too_large_is_not_read(plant: Plant, client_for: Clients) -> None:
    """413, before any of it is parsed."""
    assert hand_in(b" " * (2 * 1024 * 1024 + 1), enrolled(client_for(plant.people.admin))).status_code in (400, 413)


def test_the_page_says_who_speaks(plant: Plant, client_for: Clients) -> None:
    """Last value and time, what waits, what was refused; feeds are set up by maintenance."""
    piet = client_for(plant.people.piet)
    page = piet.get(reverse("records:live")).content.decode()
    assert "No feed is set up" in page
    new = reverse("records:live-feed")
    for said, sentence in (
        ({"name": "", "instrument": "", "unit": ""}, "Choose one."),
        ({"name": "a", "instrument": "T-20", "unit": "psi"}, "cannot be in that unit"),
    ):
        answer = piet.post(new, {"form_id": str(uuid.uuid4()), **said})
        assert answer.status_code == 422 and sentence in answer.content.decode()
    piet.post(new, {"form_id": str(uuid.uuid4()), "name": "plant/silo-a", "instrument": "T-20", "unit": ""})
    assert LiveFeed.objects.get().unit == "°F"
    twice = piet.post(new, {"form_id": str(uuid.uuid4()), "name": "plant/silo-a", "instrument": "T-20", "unit": ""})
    assert "stands for an instrument already" in twice.content.decode()
    came("plant/silo-a", ["40.3"], NOW - timedelta(minutes=3))
    page = piet.get(reverse("records:live")).content.decode()
    assert "40.3 °F" in page and "speaks" in page and "1 sample waits" in page
    piet.post(reverse("records:live-feed-off", args=[LiveFeed.objects.get().id]))
    assert not LiveFeed.objects.exists() and StagedSample.objects.exists()


def test_a_gateways_form_twice_shows_no_second_token(plant: Plant, client_for: Clients) -> None:
    """And one name stands for one gateway."""
    admin = client_for(plant.people.admin)
    form = {"form_id": str(uuid.uuid4()), "name": "Dairy gateway", "instruments": ["T-20"]}
    assert b"<code>" in admin.post(reverse("records:live-gateway"), form).content
    before = Entry.objects.count()
    assert b"<code>" not in admin.post(reverse("records:live-gateway"), form).content
    other = admin.post(reverse("records:live-gateway"), {**form, "form_id": str(uuid.uuid4())})
    assert other.status_code == 422 and Entry.objects.count() == before


def test_a_gateway_sends_for_its_own_instruments_alone(
    plant: Plant, client_for: Clients, caplog: pytest.LogCaptureFixture
) -> None:
    """Another's are refused, each with its reason, logged, and on the page; the rest of the same body is kept."""
    fed()
    admin = client_for(plant.people.admin)
    token = enrolled(admin)
    assert GatewayInstrument.objects.get().instrument == "T-20"
    rows = [{"channel": "plant/silo-a", "value": 40}, {"channel": "plant/hot", "value": 162}]
    answer = json.loads(hand_in(rows, token).content)
    assert answer["new"] == 1 and answer["refused"] == [
        {"row": 2, "why": "this gateway is not enrolled for the instrument: T-12"}
    ]
    assert "Dairy gateway: 1 samples refused" in caplog.text
    assert [one.instrument for one in StagedSample.objects.all()] == ["T-20"]
    page = client_for(plant.people.piet).get(reverse("records:live")).content.decode()
    assert "not enrolled for the instrument: T-12" in page and "for T-20" in page
    none = admin.post(reverse("records:live-gateway"), {"form_id": str(uuid.uuid4()), "name": "Other"})
    assert none.status_code == 422 and "Choose at least one." in none.content.decode()


def test_a_feed_set_up_and_taken_off_are_acts(plant: Plant, client_for: Clients) -> None:
    """Each leaves a record with who did it; the same form again writes nothing, with other content it is refused."""
    piet = client_for(plant.people.piet)
    said = {"form_id": str(uuid.uuid4()), "name": "plant/silo-a", "instrument": "T-20", "unit": ""}
    for _twice in range(2):
        assert piet.post(reverse("records:live-feed"), said).status_code == 302
    assert piet.post(reverse("records:live-feed"), {**said, "name": "plant/other"}).status_code == 422
    feed = LiveFeed.objects.get()
    off = reverse("records:live-feed-off", args=[feed.id])
    for _twice in range(2):
        piet.post(off, {"form_id": str(uuid.uuid4())})
    assert [(one.what, one.name, one.instrument, one.unit, one.by_name) for one in FeedAct.objects.all()] == [
        (what, "plant/silo-a", "T-20", "°F", "Piet Lomax") for what in ("set up", "taken off")
    ]
    assert "taken off" in piet.get(reverse("records:live")).content.decode() and verify().good
