"""Opening, answering and closing deviations. Opening happens inside the act that found the cause."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from django.utils import translation
from django.utils.translation import gettext as _

from records.deviations import queries
from records.deviations.errors import Refused
from records.deviations.models import (
    Correction,
    CorrectiveAction,
    Deviation,
    DeviationCause,
    DeviationClosing,
    Outage,
    OutageEnd,
)
from records.deviations.words import outage_in_words
from records.ledger.actions import Act, Actor, act

if TYPE_CHECKING:
    from records.people.plans import InForce

# Correcting the same thing again within this time is a deviation (foundations: 'a correction repeated').
REPEATED_WITHIN = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Cause:
    """What was found: the record that shows it, when it was observed and its sentence."""

    kind: str  # reading, transition, movement, outage, correction
    number: int
    observed_at: datetime
    sentence: str


def open_or_extend(
    a: Act,
    *,
    in_force: InForce | None,
    control_point: str,
    subject: str,
    cause: str,
    found: Cause,
    since_at: datetime,
    weight: str = "safety",
    foreseen: bool = True,
    same_excursion: Collection[int] | None = None,
    raised_from: int | None = None,
) -> tuple[Deviation, bool]:
    """The deviation of this cause, and whether this act opened it.

    `same_excursion`: ledger numbers of the other causes of the same excursion; with it, a deviation that one of them
    opened is extended, and otherwise a new one opens. Without it, the latest one still open is extended. Must be called
    inside `act`: the ledger's lock makes it happen once.
    """
    latest = Deviation.objects.filter(control_point=control_point, subject=subject).order_by("-number").first()
    current = _current(latest, control_point, subject, same_excursion)
    if current is not None:
        if not DeviationCause.objects.filter(deviation=current.number, cause_number=found.number).exists():
            _add_cause(a, current, found)
        return current, False
    name, is_ccp = _control_point(in_force, control_point)
    deviation = a.write(
        Deviation(
            chain=f"{control_point}|{subject}|{latest.number if latest else 0}",
            control_point=control_point,
            control_point_name=name,
            is_ccp=is_ccp,
            weight=weight,
            subject=subject,
            subject_name=in_force.names.get(subject, subject) if in_force else subject,
            cause=cause,
            since_at=since_at,
            sentence=found.sentence,
            plan_number=in_force.number if in_force else None,
            foreseen=foreseen,
            raised_from=raised_from,
        ),
        observed_at=found.observed_at,
    )
    _add_cause(a, deviation, found)
    return deviation, True


def add_causes(a: Act, deviation: Deviation, found: Sequence[Cause]) -> None:
    """Further causes of a deviation, in one go; those it has already add nothing."""
    known = set(
        DeviationCause.objects.filter(
            deviation=deviation.number, cause_number__in=[one.number for one in found]
        ).values_list("cause_number", flat=True)
    )
    new = [one for one in found if one.number not in known]
    rows = [
        DeviationCause(
            deviation=deviation.number, cause_kind=one.kind, cause_number=one.number, sentence=one.sentence
        )
        for one in new
    ]
    a.write_many(rows, observed_at=[one.observed_at for one in new])


def _current(
    latest: Deviation | None, control_point: str, subject: str, same_excursion: Collection[int] | None
) -> Deviation | None:
    if latest is None:
        return None
    if same_excursion is None:
        return None if queries.is_closed(latest.number) else latest
    numbers = DeviationCause.objects.filter(cause_number__in=list(same_excursion)).values("deviation")
    found = (
        Deviation.objects.filter(number__in=numbers, control_point=control_point, subject=subject)
        .order_by("-number")
        .first()
    )
    return None if found is None or queries.is_closed(found.number) else found


def _control_point(in_force: InForce | None, key: str) -> tuple[str, bool]:
    if in_force is None:
        return key, False
    try:
        found = in_force.plan.control_point_by_key(key)
    except KeyError:
        return key, False
    return found.name, found.kind == "ccp"


def _add_cause(a: Act, deviation: Deviation, found: Cause) -> None:
    a.write(
        DeviationCause(
            deviation=deviation.number,
            cause_kind=found.kind,
            cause_number=found.number,
            sentence=found.sentence,
        ),
        observed_at=found.observed_at,
    )


def write_part(by: Actor, deviation: Deviation, part: str, text: str, form_id: UUID) -> CorrectiveAction:
    """One part of the corrective action. The same form again gives the row it saved."""
    if part not in queries.ALL_PARTS:
        raise Refused(_("That is not a part of a corrective action."), "part")
    if not text.strip():
        raise Refused(_("Write what was done."), "text")
    with act(by) as a:
        saved = CorrectiveAction.objects.filter(form_id=form_id).first()
        if saved:
            if (saved.deviation, saved.part, saved.text, saved.by_id) != (
                deviation.number,
                part,
                text,
                by.person_id,
            ):
                raise Refused(_("This form was saved before with other words. Open the page again to add to them."))
            return saved
        if queries.is_closed(deviation.number):
            raise Refused(_("This deviation is closed; nothing is added to it any more."))
        return a.write(CorrectiveAction(deviation=deviation.number, part=part, text=text, form_id=form_id))


def close(by: Actor, deviation: Deviation, text: str) -> DeviationClosing:
    """Close a complete deviation; refused to whoever took one of its readings, and while anything is missing."""
    with act(by) as a:
        closing = DeviationClosing.objects.filter(deviation=deviation.number).first()
        if closing and (closing.by_id, closing.text) == (by.person_id, text):
            return closing
        if closing:
            raise Refused(_("This deviation is closed already."))
        if missing := queries.missing(deviation):
            raise Refused(_("It cannot be closed yet. Missing: %(what)s.") % {"what": "; ".join(missing)})
        if by.person_id in queries.readers(deviation.number):
            raise Refused(_("Whoever took one of its readings cannot close it: somebody else has to."))
        return a.write(DeviationClosing(deviation=deviation.number, text=text))


def record_correction(
    by: Actor,
    in_force: InForce | None,
    *,
    subject_kind: str,
    subject_number: int,
    control_point: str,
    subject: str,
    text: str,
    form_id: UUID,
) -> tuple[Correction, Deviation | None]:
    """A minor matter put right (21 CFR 117.150(c)). The same matter again within a day opens a deviation."""
    if not text.strip():
        raise Refused(_("Write in one line what was put right."), "text")
    with act(by) as a:
        saved = Correction.objects.filter(form_id=form_id).first()
        if saved:
            if (saved.subject_kind, saved.subject_number, saved.text, saved.by_id) != (
                subject_kind,
                subject_number,
                text,
                by.person_id,
            ):
                raise Refused(_("This form was saved before with other words. Open the page again."), "text")
            return saved, _led_to(saved.number)
        before = (
            Correction.objects.filter(
                control_point=control_point, subject=subject, observed_at__gte=a.now - REPEATED_WITHIN
            )
            .exclude(subject_kind=subject_kind, subject_number=subject_number)
            .exists()
        )
        name = in_force.names.get(subject, subject) if in_force else subject
        row = a.write(
            Correction(
                subject_kind=subject_kind,
                subject_number=subject_number,
                control_point=control_point,
                subject=subject,
                subject_name=name,
                text=text,
                form_id=form_id,
            )
        )
        if not before:
            return row, None
        with _speaking(in_force):
            sentence = _("%(subject)s: the same matter had to be put right again within a day") % {"subject": name}
        found = Cause("correction", row.number, row.observed_at, sentence)
        deviation, _opened = open_or_extend(
            a,
            in_force=in_force,
            control_point=control_point,
            subject=subject,
            cause="repeated",
            found=found,
            since_at=row.observed_at - REPEATED_WITHIN,
        )
        return row, deviation


def _speaking(in_force: InForce | None) -> AbstractContextManager[None]:
    """Records are written in the plant's language; before the first plan in English."""
    return in_force.speaking() if in_force else translation.override("en")


def _led_to(number: int) -> Deviation | None:
    """The deviation that a correction is a cause of, if any."""
    cause = DeviationCause.objects.filter(cause_kind=Correction.KIND, cause_number=number).first()
    return Deviation.objects.filter(number=cause.deviation).first() if cause else None


def raise_correction(by: Actor, in_force: InForce | None, correction: Correction, why: str) -> Deviation:
    """A supervisor raises a correction to a deviation; never the other way."""
    if not why.strip():
        raise Refused(_("Write why this is more than a correction."), "why")
    with act(by) as a:
        already = Deviation.objects.filter(raised_from=correction.number).first() or _led_to(correction.number)
        if already:
            return already
        deviation, _opened = open_or_extend(
            a,
            in_force=in_force,
            control_point=correction.control_point,
            subject=correction.subject,
            cause="raised",
            found=Cause("correction", correction.number, correction.observed_at, why),
            since_at=correction.observed_at,
            raised_from=correction.number,
        )
        return deviation


def open_outage(
    by: Actor,
    in_force: InForce | None,
    what: str,
    started_at: datetime,
    covers: list[dict[str, str]],
    text: str = "",
) -> tuple[Outage, Deviation]:
    """One cause, one deviation: an outage opened once, with every vessel, check and recorder under it."""
    with act(by) as a:
        saved = Outage.objects.filter(started_at=started_at).first()
        if saved and saved.deviation:
            if saved.what != what:
                raise Refused(
                    _("An outage that began at that moment is in the book already: entry %(number)d.")
                    % {"number": saved.number},
                    "started_at",
                )
            return saved, Deviation.objects.get(number=saved.deviation)
        if by.person_id is not None:  # what the watch finds of itself it always writes
            _refuse_overlap(what, started_at)
        with _speaking(in_force):
            sentence = outage_in_words(what)
        deviation = a.write(
            Deviation(
                chain=f"outage|{what}|{started_at.isoformat()}",
                control_point="",
                control_point_name=sentence,
                is_ccp=any(one.get("ccp") == "yes" for one in covers),
                weight="safety",
                subject="plant",
                subject_name=in_force.plan.plant.name if in_force else "plant",
                cause="outage",
                since_at=started_at,
                sentence=f"{sentence}. {text}".strip(),
                plan_number=in_force.number if in_force else None,
                foreseen=False,
            ),
            observed_at=started_at,
        )
        outage = a.write(
            Outage(what=what, started_at=started_at, covers=covers, deviation=deviation.number, text=text),
            observed_at=started_at,
        )
        _add_cause(a, deviation, Cause("outage", outage.number, started_at, deviation.sentence))
        return outage, deviation


def _refuse_overlap(what: str, started_at: datetime) -> None:
    """One cause, one deviation: an outage of the same kind that still lasts, or lasted then, is that outage."""
    for other in Outage.objects.filter(what=what):
        end = OutageEnd.objects.filter(outage=other.number).first()
        if other.started_at <= started_at and (end is None or started_at < end.ended_at):
            raise Refused(
                _("It lies in an outage that is in the book already: entry %(number)d.") % {"number": other.number},
                "started_at",
            )


def end_outage(by: Actor, outage: Outage, ended_at: datetime, covers: list[dict[str, str]]) -> OutageEnd:
    """The end of an outage, with what each vessel's first reading after it showed; once."""
    with act(by) as a:
        saved = OutageEnd.objects.filter(outage=outage.number).first()
        if saved:
            return saved
        if ended_at <= outage.started_at:
            raise Refused(_("It cannot end before it began."), "ended_at")
        return a.write(OutageEnd(outage=outage.number, ended_at=ended_at, covers=covers), observed_at=ended_at)
