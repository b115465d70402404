"""Gateways that hand samples in over HTTP: enrolled with a token that is shown once, and revoked."""

from __future__ import annotations

import hashlib
import secrets
import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from records.deviations.errors import Refused
from records.ledger.actions import Actor, act
from records.live.models import ENROLLED, REVOKED, GatewayAct, GatewayInstrument

TOKEN_BYTES = 32


@dataclass(frozen=True, slots=True)
class Gateway:
    """A gateway as it stands. `revoked_at` None: it may hand samples in."""

    id: uuid.UUID
    name: str
    enrolled_at: datetime
    revoked_at: datetime | None
    instruments: tuple[str, ...] = ()  # empty: enrolled before they were named


def enroll(by: Actor, name: str, instruments: Sequence[str], form_id: uuid.UUID) -> tuple[GatewayAct, str]:
    """Enrol a gateway for its own instruments; gives its record and its token, which nobody can read again.

    The token is empty where the form came again. Raises Refused beside the field.
    """
    name = name.strip()
    if not name:
        raise Refused(_("Write a few words here."), "name")
    if not instruments:
        raise Refused(_("Choose at least one."), "instruments")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with act(by) as a:
        if saved := GatewayAct.objects.filter(form_id=form_id).first():
            return saved, ""
        if any(one.name == name and one.revoked_at is None for one in gateways()):
            raise Refused(_("There is a gateway of this name already."), "name")
        row = a.write(
            GatewayAct(
                form_id=form_id, gateway=uuid.uuid4(), name=name, what=ENROLLED, token_hash=_hash(token)
            )
        )
        for one in sorted(set(instruments)):
            a.write(GatewayInstrument(gateway=row.gateway, instrument=one))
    return row, token


def revoke(by: Actor, gateway: uuid.UUID, form_id: uuid.UUID) -> GatewayAct:
    """From now on its token opens nothing."""
    with act(by) as a:
        if saved := GatewayAct.objects.filter(gateway=gateway, what=REVOKED).first():
            return saved
        known = GatewayAct.objects.filter(gateway=gateway, what=ENROLLED).first()
        if known is None:
            raise Refused(_("There is no such gateway."))
        return a.write(GatewayAct(form_id=form_id, gateway=gateway, name=known.name, what=REVOKED))


def gateways() -> list[Gateway]:
    """Every gateway, in the order of enrolment. Two queries."""
    rows = list(GatewayAct.objects.order_by("number"))
    gone = {one.gateway: one.received_at for one in rows if one.what == REVOKED}
    own: dict[uuid.UUID, list[str]] = defaultdict(list)
    for gateway, instrument in GatewayInstrument.objects.order_by("number").values_list("gateway", "instrument"):
        own[gateway].append(instrument)
    return [
        Gateway(one.gateway, one.name, one.received_at, gone.get(one.gateway), tuple(own.get(one.gateway, ())))
        for one in rows
        if one.what == ENROLLED
    ]


def may_send(gateway: uuid.UUID) -> frozenset[str] | None:
    """The instruments for which a gateway may hand samples in; None for all: enrolled before they were named."""
    rows = GatewayInstrument.objects.filter(gateway=gateway)
    return frozenset(rows.values_list("instrument", flat=True)) or None


def by_token(token: str) -> GatewayAct | None:
    """The gateway whose token this is; None for none, and for one that is revoked. Two queries."""
    if not token or len(token) > 200:
        return None
    found = GatewayAct.objects.filter(token_hash=_hash(token), what=ENROLLED).first()
    if found is None or GatewayAct.objects.filter(gateway=found.gateway, what=REVOKED).exists():
        return None
    return found


def _hash(token: str) -> str:
    """A token has 256 bits of chance: no salt and no slow hash can make it harder to guess."""
    return hashlib.sha256(token.encode()).hexdigest()
