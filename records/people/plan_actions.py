"""Approving a plan: two signatures by two people freeze a version, whole, as canonical JSON."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _

from plant.hazard_plan.check import barring
from plant.hazard_plan.content import Plan, PlanError, from_json, to_json
from plant.hazard_plan.models import PlanVersion
from plant.hazard_plan.planned import calendar_of, planned_checks
from plant.hazard_plan.written import plan_of
from plant.people.models import Person, Role
from records.ledger.actions import Act, Actor, act
from records.ledger.canonical import canonical
from records.people.models import PlanApproval, PlanSignature
from records.people.refused import Refused

# 21 CFR 117.310: the owner, operator or agent in charge signs and dates the plan. The second is our rule.
OWNER_SIGNS = "owner, operator or agent in charge"
QUALIFIED_SIGNS = "qualified individual"
LATEST = timedelta(days=731)
MEANINGS = {QUALIFIED_SIGNS: Role.QUALIFIED.value, OWNER_SIGNS: Role.OWNER.value}


def frozen(version: PlanVersion) -> tuple[str, str]:
    """The text that an approval of this version would freeze, and its SHA-256 in hex: what is signed."""
    return frozen_plan(plan_of(version))


def frozen_plan(plan: Plan) -> tuple[str, str]:
    """As `frozen`, of a version's plan."""
    text = canonical(to_json(plan))
    return text, hashlib.sha256(text.encode()).hexdigest()


def signatures(version: PlanVersion, content_hash: str) -> list[PlanSignature]:
    """The signatures given to exactly this content."""
    return list(PlanSignature.objects.filter(version_id=version.id, content_hash=content_hash))


def refusals(plan: Plan) -> list[str]:
    """Why this plan cannot be approved, in sentences; empty when nothing is against it."""
    try:
        calendar_of(plan)
        planned_checks(plan)
        if from_json(json.loads(canonical(to_json(plan)))) != plan:
            return [str(_("The plan does not come back from its own frozen text."))]
    except PlanError as error:
        return [str(error)]
    return [str(one) for one in barring(plan)]


def sign_plan(
    by: Actor, version: PlanVersion, meaning: str, in_force_from: datetime | None = None, signed_hash: str | None = None
) -> PlanSignature | PlanApproval:
    """Sign a draft; the second of the two signatures approves it, and it comes into force then or at `in_force_from`.

    `signed_hash`: the content that the signer saw; Refused when the draft says something else by now. Refused too: a
    person without the role, one person for both, a version approved already, a time that has passed or that comes
    before another approved version. The same person signing the same content again changes nothing.
    """
    if meaning not in MEANINGS:
        raise Refused(_("There is no such signature."), "meaning")
    with act(by) as a:
        # As it stands now, and no edit of the draft may be half-way: what is frozen is what the rows say afterwards.
        version = PlanVersion.objects.select_for_update().get(id=version.id)
        if PlanApproval.objects.filter(version_id=version.id).exists():
            raise Refused(_("This version is approved already; nothing about it changes."))
        _refuse_role(by, meaning, a.now)
        plan = plan_of(version)
        text, content_hash = frozen_plan(plan)
        for sentence in refusals(plan):
            raise Refused(sentence)
        if signed_hash is not None and signed_hash != content_hash:
            raise Refused(_("The draft was changed since you opened it. Read it again before you sign."))
        given = {one.meaning: one for one in signatures(version, content_hash)}
        signed = given.get(meaning)
        if signed is not None and signed.by_id == by.person_id:
            return signed
        if signed is not None:
            raise Refused(_("%(name)s has given this signature already.") % {"name": signed.by_name})
        if any(one.by_id == by.person_id for one in given.values()):
            raise Refused(_("Two different people sign. You have signed already."))
        starts = _starts(a, in_force_from) if given else None  # a bad time refuses the act before it writes
        signature = a.write(
            PlanSignature(
                version_id=version.id, version_number=version.number, content_hash=content_hash, meaning=meaning
            )
        )
        if starts is None:
            return signature
        return a.write(
            PlanApproval(
                version_id=version.id,
                version_number=version.number,
                in_force_from=starts,
                plan=text,
                content_hash=content_hash,
            )
        )


def _refuse_role(by: Actor, meaning: str, now: datetime) -> None:
    person = Person.objects.filter(id=by.person_id, is_active=True).first() if by.person_id else None
    if person is None or MEANINGS[meaning] not in person.roles_at(now):
        raise Refused(_("This signature is not yours to give."), "meaning")


def _starts(a: Act, wanted: datetime | None) -> datetime:
    starts = wanted or a.now
    if starts < a.now:
        raise Refused(_("A version comes into force when it is approved or later, never earlier."), "in_force_from")
    if starts > a.now + LATEST:
        raise Refused(_("That is more than two years ahead."), "in_force_from")
    last = PlanApproval.objects.order_by("-in_force_from").first()
    if last is not None and starts <= last.in_force_from:
        raise Refused(
            _("Version %(number)s comes into force only after that: choose a later time.")
            % {"number": last.version_number},
            "in_force_from",
        )
    return starts
