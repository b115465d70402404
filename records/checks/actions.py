"""Saving what was read: reading, verdict, deviation and hold in one transaction; then notes, amendments, signatures."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from records.checks import consequences, elsewhere, matching
from records.checks.entry import LONGEST_TEXT, Nonsense, ReadingData, build_reading
from records.checks.models import Reading, ReadingNote, RoundSigned
from records.deviations.errors import Refused
from records.deviations.models import Deviation
from records.judging import queries as verdicts
from records.judging.actions import write_verdict
from records.judging.judge import GOOD, judge_reading
from records.judging.models import Verdict
from records.ledger import files
from records.ledger.actions import Act, Actor, act
from records.ledger.models import FileKept
from records.people.plans import InForce, plan_in_force

# What makes two submissions of one form the same: everything a person can type, each a text or a plain answer.
_TEXTS = ("typed", "typed_second", "not_taken", "note", "late_reason", "paper_form")
_ANSWERS = ("monitoring_key", "subject", "places", "agitator_ran", "bulb_covered", "file")
# Told only when a person says something else than what is found without them.
_IF_SAID = ("unit", "instrument", "observed_at", "what")


class DifferentContent(Exception):
    """The form was saved before with other content; `saved` is what stands. It can be amended, not sent again."""

    def __init__(self, saved: Reading) -> None:
        super().__init__(f"form {saved.form_id} was saved before")
        self.saved = saved


@dataclass(frozen=True, slots=True)
class Saved:
    """What a submission came to. `again`: the same form had been saved before, nothing was written now."""

    reading: Reading
    verdict: Verdict | None
    deviation: Deviation | None
    again: bool = False


def record_reading(by: Actor, data: ReadingData, *, of_a_look: bool = False) -> Saved:
    """Save a reading with its verdict and consequences, once for each form.

    `of_a_look`: it comes with the record of what was looked at; a plain answer alone to such a check is not proven.
    Raises Nonsense (with the field) before anything is written, DifferentContent for a changed resubmission, and
    Refused when no plan has been approved.
    """
    if existing := _saved_form(by, data):
        return _again(existing, data)
    now = clock.now()
    in_force = _plan_at(data.observed_at or now)
    matching.refuse_foreign(data, in_force, now)
    reading = build_reading(data, in_force, now)
    matching.place_in_time(reading, in_force, now)
    return _save(by, data, reading, in_force, "entry", of_a_look)


def _save(by: Actor, data: ReadingData, reading: Reading, in_force: InForce, why: str, of_a_look: bool) -> Saved:
    """The write phase: the reading, its verdict, what follows. A form that another request saved first stands."""
    consequences.note_contents(reading, in_force)
    judgement = judge_reading(reading, in_force, consequences.hold_of_record(reading, in_force))
    before = verdicts.governing(Reading.KIND, [reading.amends]).get(reading.amends) if reading.amends else None
    if judgement is not None and not of_a_look and (before is None or before.outcome not in GOOD):
        judgement = elsewhere.bare(judgement, reading.monitoring_key, reading.subject, in_force)
    with act(by) as a:
        if existing := _saved_form(by, data):
            return _again(existing, data)
        if reading.amends and Reading.objects.filter(amends=reading.amends).exists():
            raise Refused(_("This reading has been amended already. Amend the newer one."))
        _keep_file(a, data)
        saved = a.write(reading, observed_at=reading.observed_at)
        if judgement is None:
            return Saved(saved, None, None)
        follows = before.number if before else None
        verdict = write_verdict(a, Reading.KIND, saved.number, judgement, in_force, why, follows)
        deviation = consequences.follow(a, saved, verdict, in_force)
    return Saved(saved, verdict, deviation)


def _keep_file(a: Act, data: ReadingData) -> None:
    """The entry of the photo, whose bytes are on disk already."""
    if data.file and not FileKept.objects.filter(sha256=data.file).exists():
        files.keep(a, files.read(data.file), data.file_name or "photo", data.file_mime)


def _plan_at(moment: datetime) -> InForce:
    in_force = plan_in_force(moment)
    if in_force is None:
        raise Refused(
            _("No plan was in force at that time: a plan has to be approved before checks are logged."), "observed_at"
        )
    return in_force


def _saved_form(by: Actor, data: ReadingData) -> Reading | None:
    return Reading.objects.filter(by_id=by.person_id, form_id=data.form_id).first()


def _again(existing: Reading, data: ReadingData) -> Saved:
    same = (
        all(getattr(existing, name) == getattr(data, name).strip() for name in _TEXTS)
        and all(getattr(existing, name) == getattr(data, name) for name in _ANSWERS)
        and all(getattr(existing, name) == getattr(data, name) for name in _IF_SAID if getattr(data, name))
    )
    if not same:
        raise DifferentContent(existing)
    verdict = verdicts.governing(Reading.KIND, [existing.number]).get(existing.number)
    return Saved(existing, verdict, consequences.deviation_of(existing.number), again=True)


def may_amend(by: Actor, reading: Reading, closed: bool) -> str:
    """Empty when the person may amend this reading, else the sentence that says who may.

    One's own until the day is closed; afterwards a supervisor, and not one's own.
    """
    own = by.person_id == reading.by_id
    if not closed:
        if own or by.role in ("supervisor", "qualified individual"):
            return ""
        return _("Only %(name)s or a supervisor can amend this reading.") % {"name": reading.by_name}
    if by.role not in ("supervisor", "qualified individual"):
        return _("The day is closed: only a supervisor can amend it now.")
    return _("The day is closed: somebody else has to amend your own reading.") if own else ""


def amend_reading(
    by: Actor, number: int, data: ReadingData, reason: str, *, day_closed: bool, of_a_look: bool = False
) -> Saved:
    """A successor of a reading, at most one each; it is judged anew and its verdict follows the old one.

    It answers the same check at the same place; what was observed and when may be corrected. Amending 'not met' to
    'met' closes and releases nothing. Raises as `record_reading`.
    """
    old = Reading.objects.get(number=number)
    data = replace(
        data,
        monitoring_key=old.monitoring_key,
        subject=old.subject,
        event=old.event,
        due_at=old.due_at,
        what=data.what or old.what,
        observed_at=data.observed_at or old.observed_at,
    )
    if existing := _saved_form(by, data):
        return _again(existing, data)
    if not reason.strip():
        raise Nonsense("amend_reason", _("Write why it is amended."))
    if why_not := may_amend(by, old, day_closed):
        raise Refused(why_not)
    in_force = _plan_at(data.observed_at or old.observed_at)
    reading = build_reading(data, in_force, clock.now())
    reading.amends, reading.amend_reason = old.number, reason.strip()
    return _save(by, data, reading, in_force, "amendment", of_a_look)


def write_note(by: Actor, reading: Reading, text: str, form_id: UUID) -> ReadingNote:
    """What was done or seen, after the number was kept. The same form again gives the note it saved."""
    if not text.strip():
        raise Nonsense("text", _("Write what was done."))
    if len(text.strip()) > LONGEST_TEXT:
        raise Nonsense("text", _("This is too long: %(most)s characters are kept.") % {"most": LONGEST_TEXT})
    with act(by) as a:
        saved = ReadingNote.objects.filter(form_id=form_id).first()
        if saved is None:
            return a.write(ReadingNote(reading=reading.number, text=text.strip(), form_id=form_id))
        if (saved.reading, saved.text, saved.by_id) != (reading.number, text.strip(), by.person_id):
            raise Refused(_("This form was saved before with other words. Open the page again to add to them."), "text")
        return saved


def sign_round(by: Actor, shift: str, plant_day: date, started_at: datetime) -> RoundSigned:
    """The signature under a round: the person's own readings since it was opened, by number.

    The same readings are signed once, however often the button is tapped.
    """
    with act(by) as a:
        numbers = [one.number for one in unsigned_readings(by.person_id, started_at)]
        if numbers:
            return a.write(RoundSigned(shift=shift, plant_day=plant_day, started_at=started_at, readings=numbers))
        last = RoundSigned.objects.filter(by_id=by.person_id, started_at=started_at).order_by("-number").first()
        if last is None:
            raise Refused(_("Nothing has been read in this round yet."))
        return last


def unsigned_readings(person_id: UUID | None, since: datetime) -> list[Reading]:
    """A person's own readings received since a moment that no round they signed covers yet, oldest first."""
    signed: set[int] = set()
    for one in RoundSigned.objects.filter(by_id=person_id, received_at__gte=since):
        signed.update(one.readings)
    mine = Reading.objects.filter(by_id=person_id, received_at__gte=since).order_by("number")
    return [one for one in mine if one.number not in signed]
