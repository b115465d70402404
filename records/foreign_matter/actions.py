"""Recording what was looked at: the record, the plan's check that it answers, the deviation, and product held."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.utils.translation import gettext as _

from plant.process.errors import OutsideRange
from plant.process.foreign_matter import missing_parts, span_of
from records.checks.actions import amend_reading, record_reading
from records.checks.entry import Nonsense, ReadingData
from records.flow import closed_days
from records.flow.common import name_of, not_ahead, plan_at, same_or_different, typed_number
from records.flow.errors import Refused
from records.flow.moving import may_amend
from records.foreign_matter import consequences, data, queries
from records.foreign_matter.models import Breakage, DetectorChallenge, Look, PartsCount, StrainerLook
from records.foreign_matter.plan_checks import answer_of, answered_by, check_of, good_answers, planned_pieces
from records.foreign_matter.words import AFTER, ANSWERS, MATERIALS, METALS, WHEN, in_words
from records.ledger import files
from records.ledger.actions import Act, Actor, act
from records.ledger.models import FileKept
from records.people.plans import InForce

L = TypeVar("L", bound=Look)
LONGEST_TEXT = 4000
MOST_PIECES = 100_000
# What the forms do not say: it comes with the act, or follows from the book as it then was.
_GIVEN = {
    "id", "number", "act", "content_version", "received_at", "by_id", "by_name", "by_initials", "by_role", "tablet",
    "suspect_since", "reading", "plan_number", "words", "good", "place_name", "check_key",
}  # fmt: skip


def record_strainer(by: Actor, said: data.StrainerData) -> StrainerLook:
    """A strainer or magnet, once for each form. Raises Refused, DifferentContent."""
    in_force = plan_at(said.at)
    check = check_of(said.device, said.place, in_force)
    if said.device not in ANSWERS:
        raise Refused(_("Choose what was looked at."), "device")
    if said.after not in AFTER:
        raise Refused(_("Choose when it was."), "after")
    known = check.answer.choices if check is not None and check.answer.kind == "choice" else ANSWERS[said.device]
    if said.found not in known:
        raise Refused(_("Choose one of the answers."), "found")
    own = check is None or check.answer.kind != "choice"
    good = said.found in (ANSWERS[said.device][:1] if own or check is None else good_answers(check, in_force))
    length = _length(said, in_force)
    if good and length is not None:
        raise Refused(_("A length belongs to something that was found. Choose what was found."), "found")
    with in_force.speaking():
        sentence = f"{in_words(said.device)}, {in_words(said.after)}: {in_words(said.found)}"
        if length is not None:
            sentence += ", " + _("longest dimension %(length)s mm") % {"length": said.length.strip()}
    return _keep(
        by,
        said,
        StrainerLook(
            **_common(said, in_force, sentence),
            good=good,
            device=said.device,
            after=said.after,
            found=said.found,
            length_typed=said.length.strip(),
            length_mm=length,
            hard=said.hard,
        ),
        in_force,
    )


def record_challenge(by: Actor, said: data.ChallengeData) -> DetectorChallenge:
    """A challenge of the metal detector: good only when every metal was tried, seen and rejected."""
    in_force = plan_at(said.at)
    if said.when not in WHEN:
        raise Refused(_("Choose when it was."), "when")
    lacking = [one for one in METALS if one not in {piece.metal for piece in said.pieces}]
    if lacking:
        raise Refused(_("Each metal has its test piece: ferrous, non-ferrous and stainless."), f"seen_{lacking[0]}")
    planned, large = planned_pieces(in_force.plan), []
    for one in said.pieces:
        size = typed_number(one.size.strip(), in_force, f"size_{one.metal}")
        if size is None or not 0 < size <= 100:
            raise Refused(_("Enter the size of the piece in mm, above 0 to 100."), f"size_{one.metal}")
        if planned[one.metal] and size > Decimal(planned[one.metal]):
            large.append(one.metal)
    unseen = [one for one in said.pieces if not one.seen]
    with in_force.speaking():
        sizes = ", ".join(f"{in_words(one.metal)} {one.size.strip()} mm" for one in said.pieces)
        told = {"when": in_words(said.when), "sizes": sizes}
        sentence = _("metal detector challenged %(when)s with %(sizes)s") % told
        if unseen:
            sentence += "; " + _("not seen: %(which)s") % {"which": ", ".join(in_words(one.metal) for one in unseen)}
        if not said.rejected:
            sentence += "; " + _("not rejected")
        if large:
            which = ", ".join(f"{in_words(one)} {planned[one]} mm" for one in large)
            sentence += "; " + _("larger than the plan's piece: %(which)s") % {"which": which}
    pieces = [{"metal": one.metal, "size": one.size.strip(), "seen": one.seen} for one in said.pieces]
    good = not unseen and not large and said.rejected  # a larger piece proves less than the plan asks
    row = DetectorChallenge(
        **_common(said, in_force, sentence), good=good, when=said.when, pieces=pieces, rejected=said.rejected
    )
    return _keep(by, said, row, in_force)


def record_count(by: Actor, said: data.CountData) -> PartsCount:
    """Parts counted: what the list, or the last count of the place, has and this one lacks is missing."""
    in_force = plan_at(said.at)
    if not said.parts:
        raise Refused(_("Write at least one part with its numbers."), "part_0")
    for index, one in enumerate(said.parts):
        if not one.name.strip():
            raise Refused(_("Write which part it is."), f"part_{index}")
        for field, pieces in ((f"listed_{index}", one.listed), (f"counted_{index}", one.counted)):
            if not 0 <= pieces <= MOST_PIECES:
                raise Refused(_("Enter a whole number, zero or more."), field)
        if one.name.strip() in [other.name.strip() for other in said.parts[:index]]:
            raise Refused(_("This part stands on the list twice."), f"part_{index}")
    listed = {one.name.strip(): one.listed for one in said.parts}
    _refuse_a_shorter_list(said, listed)
    missing = missing_parts(listed, {one.name.strip(): one.counted for one in said.parts})
    with in_force.speaking():
        sentence = _("parts counted: %(parts)s") % {
            "parts": ", ".join(f"{one.name.strip()} {one.counted}/{one.listed}" for one in said.parts)
        }
        if missing:
            which = ", ".join(f"{name} {pieces}" for name, pieces in missing.items())
            sentence += "; " + _("missing: %(which)s") % {"which": which}
    parts = [{"part": one.name.strip(), "listed": one.listed, "counted": one.counted} for one in said.parts]
    row = PartsCount(**_common(said, in_force, sentence), good=not missing, parts=parts)
    return _keep(by, said, row, in_force)


def _refuse_a_shorter_list(said: data.CountData, listed: dict[str, int]) -> None:
    """A part does not leave the count list in silence: it is counted, or a note says why the list is shorter."""
    last = queries.last_counted(said.place)
    if last is None or last.number == said.amends or said.amends is not None:
        return
    gone = [one["part"] for one in last.parts if one["part"] not in listed]
    if gone:
        raise Refused(_("The last count has these too: count them. %(which)s") % {"which": ", ".join(gone)}, "part_0")
    if not said.note.strip() and any(listed[one["part"]] < one["listed"] for one in last.parts):
        raise Refused(_("The list was longer at the last count: write why it is shorter now."), "note")


def record_breakage(by: Actor, said: data.BreakageData) -> Breakage:
    """A breakage. Product that was open nearby since it was last seen whole is held, found pieces or not."""
    in_force = plan_at(said.at)
    if said.material not in MATERIALS:
        raise Refused(_("Choose what it is made of."), "material")
    for field, text in (("what", said.what), ("spot", said.spot)):
        if not text.strip():
            raise Refused(_("Write a few words here."), field)
    if said.whole_at is not None and said.whole_at > said.at:
        raise Refused(_("This is after it was found broken."), "whole_at")
    with in_force.speaking():
        told = {"material": in_words(said.material), "what": said.what.strip(), "spot": said.spot.strip()}
        sentence = _("broken: %(material)s, %(what)s, at %(spot)s") % told
        sentence += "; " + (_("all pieces found") if said.all_found else _("not all pieces found"))
        sentence += "; " + (_("product was open nearby") if said.near else _("no product was open nearby"))
    row = Breakage(
        **_common(said, in_force, sentence),
        good=said.all_found and not said.near,
        material=said.material,
        what=said.what.strip(),
        spot=said.spot.strip(),
        cleared=said.cleared.strip(),
        all_found=said.all_found,
        near=said.near,
        whole_at=said.whole_at,
    )
    return _keep(by, said, row, in_force)


def why_not(by: Actor, row: Look) -> str:
    """Empty when the person may amend this row, else the sentence that says who may."""
    return may_amend(by, row, _closed(row))


def _closed(row: Look) -> bool:
    return closed_days.is_closed(plan_at(row.observed_at).calendar.plant_day(row.observed_at))


def _common(said: data.Look, in_force: InForce, sentence: str) -> dict[str, Any]:
    not_ahead(said.at, "at")
    if said.place not in in_force.names:
        raise Refused(_("The plan knows no such place."), "place")
    if len(said.note.strip()) > LONGEST_TEXT:
        raise Refused(_("This is too long: %(most)s characters are kept.") % {"most": LONGEST_TEXT}, "note")
    return {
        "form_id": said.form_id,
        "place": said.place,
        "place_name": name_of(in_force, said.place),
        "words": sentence,
        "photo": said.photo,
        "note": said.note.strip(),
        "amends": said.amends,
        "amend_reason": said.amend_reason.strip(),
        "void": said.void,
        "plan_number": in_force.number,
        "observed_at": said.at,
    }


def _length(said: data.StrainerData, in_force: InForce) -> Decimal | None:
    found = typed_number(said.length.strip(), in_force, "length")
    if found is None:
        return None
    try:
        span_of(found)
    except OutsideRange as error:
        raise Refused(_("Enter the longest dimension in mm, above 0 to 10000."), "length") from error
    return found


def _keep(by: Actor, said: data.Look, row: L, in_force: InForce) -> L:
    """One act: the row once for its form, the reading, and what follows for product."""
    model: Any = type(row)
    with act(by) as a:
        saved: L | None = model.objects.filter(by_id=by.person_id, form_id=row.form_id).first()
        if saved is not None:
            columns = [one.name for one in model._meta.concrete_fields if one.name not in _GIVEN]
            return same_or_different(saved, row, columns, by)
        old = _replaced(by, row, in_force)
        if said.photo and not FileKept.objects.filter(sha256=said.photo).exists():
            files.note(a, said.photo, said.photo_name or "photo", said.photo_mime)
        if old is not None and not said.photo:
            row.photo = old.photo
        _answer(by, row, old, in_force)
        row.suspect_since = consequences.suspect_since(row)
        kept = a.write(row, observed_at=row.observed_at)
        _follow(a, kept, old, in_force)
    return kept


def _replaced(by: Actor, row: L, in_force: InForce) -> L | None:
    if row.amends is None:
        return None
    model: Any = type(row)
    old: L | None = model.objects.filter(number=row.amends).first()
    if old is None:
        raise Refused(_("There is no such entry to amend."))
    if not row.amend_reason:
        raise Refused(_("Write why it is amended."), "amend_reason")
    if refusal := why_not(by, old):
        raise Refused(refusal)
    if model.objects.filter(amends=row.amends).exists():
        raise Refused(_("This entry was amended already. Amend the one that stands."))
    if isinstance(row, StrainerLook) and isinstance(old, StrainerLook) and row.device != old.device:
        raise Refused(_("Say that this one did not happen, and record the other."), "device")
    if row.place != old.place:
        raise Refused(_("Say that this one did not happen, and record the other."), "place")
    if old.reading is not None and not row.void and answered_by(row, in_force) != answered_by(old, in_force):
        # Its reading has answered the check of that moment, and stays with it.
        field = "when" if isinstance(row, DetectorChallenge) else "after"
        raise Refused(_("Say that this one did not happen, and record the other."), field)
    return old


def _answer(by: Actor, row: Look, old: Look | None, in_force: InForce) -> None:
    """The plan's check is answered by the same act; an amendment amends that answer too."""
    before = old.reading if old is not None else None
    # What was answered stays with its own check, whatever else is amended.
    known = in_force.plan.monitoring_by_key(old.check_key) if old is not None and before is not None else None
    check = known or answered_by(row, in_force)
    if check is None or (before is None and row.void):
        return
    typed = row.found if isinstance(row, StrainerLook) and row.found in check.answer.choices else ""
    typed = typed or answer_of(check, row.good, in_force)
    if not typed:
        return
    said = ReadingData(
        form_id=row.form_id,
        subject=row.place,
        monitoring_key=check.key,
        typed="" if row.void else typed,
        not_taken=row.amend_reason[:200] if row.void else "",
        observed_at=row.observed_at,
    )
    try:
        if before is not None and old is not None:
            saved = amend_reading(by, before, said, row.amend_reason, day_closed=_closed(old), of_a_look=True)
        else:
            saved = record_reading(by, said, of_a_look=True)
    except Nonsense as refused:
        raise Refused(refused.sentence, "at" if refused.field == "observed_at" else refused.field) from refused
    row.check_key, row.reading = check.key, saved.reading.number


def _follow(a: Act, row: Look, old: Look | None, in_force: InForce) -> None:
    consequences.follow(a, row, in_force)
    moments: set[datetime] = {row.observed_at} | ({old.observed_at} if old is not None else set())
    for moment in sorted(moments):
        for one in queries.neighbours(row, moment):
            consequences.follow(a, one, in_force)
