"""From what a person submitted to a reading that can be judged: parsing and the refusal of nonsense. No writes."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.utils.translation import gettext as _

from plant.equipment.models import Instrument
from plant.hazard_plan.content import InstrumentDef, MonitoringDef
from plant.process.units import CELSIUS, FAHRENHEIT, NumberError, UnitError, exact, parse_number, plain
from records.checks.models import Reading
from records.people.plans import InForce

# A clock a little fast is no lie; more than this in the future is nonsense (foundations).
FUTURE = timedelta(minutes=2)
LONGEST_TEXT = 4000
# Where neither an instrument nor the plan says what can be read: no milk plant is colder or hotter than this.
PLAUSIBLE = {FAHRENHEIT: (Decimal(-60), Decimal(250)), CELSIUS: (Decimal(-51), Decimal(121))}
PLACE_ANSWERS = ("ok", "not ok")  # of a list of places whose plan names no answers


class Nonsense(ValueError):
    """Something that cannot be kept as a reading; `field` names where to say so."""

    def __init__(self, field_name: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field_name
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class ReadingData:
    """What a form gives: texts as typed. Everything else is found by the action.

    `file` is the SHA-256 of a photo that `records.ledger.files.put` has kept, with the name and type it came with.
    """

    form_id: UUID
    subject: str
    monitoring_key: str = ""
    event: str = ""
    due_at: datetime | None = None
    typed: str = ""
    typed_second: str = ""
    unit: str = ""
    places: dict[str, str] = field(default_factory=dict)
    file: str = ""
    file_name: str = ""
    file_mime: str = ""
    not_taken: str = ""
    instrument: str = ""
    agitator_ran: bool | None = None
    bulb_covered: bool | None = None
    note: str = ""
    observed_at: datetime | None = None
    late_reason: str = ""
    paper_form: str = ""
    device_offset_ms: int | None = None
    what: str = ""  # for a free reading or note


def build_reading(data: ReadingData, in_force: InForce, now: datetime) -> Reading:
    """An unsaved Reading with its parsed values and the instrument's numbers copied in; Nonsense names the field."""
    observed_at = data.observed_at or now
    if observed_at > now + FUTURE:
        raise Nonsense("observed_at", _("This time has not come yet. Write when it was read."))
    _refuse_what_does_not_fit(data)
    monitoring = in_force.plan.monitoring_by_key(data.monitoring_key)
    kind = monitoring.answer.kind if monitoring else ("number" if data.unit else "text")
    reading = Reading(
        form_id=data.form_id,
        monitoring_key=data.monitoring_key,
        what=in_force.what_of(monitoring) if monitoring else _free_words(data, in_force),
        subject=data.subject,
        subject_name=in_force.names.get(data.subject, data.subject),
        event=data.event,
        due_at=data.due_at,
        plan_number=in_force.number,
        answer_kind=kind,
        typed=data.typed.strip(),
        typed_second=data.typed_second.strip(),
        unit=data.unit or (monitoring.answer.unit if monitoring else ""),
        places=data.places,
        file=data.file,
        not_taken=data.not_taken.strip(),
        agitator_ran=data.agitator_ran,
        bulb_covered=data.bulb_covered,
        note=data.note.strip(),
        late_reason=data.late_reason.strip(),
        paper_form=data.paper_form.strip(),
        device_offset_ms=data.device_offset_ms,
        observed_at=observed_at,
    )
    if reading.not_taken:
        return reading
    instrument = _instrument(data, monitoring, in_force)
    if instrument is not None:
        _copy_instrument(reading, instrument)
    _parse_numbers(reading, kind, monitoring, instrument, in_force)
    _require_answer(reading, kind, monitoring)
    return reading


def _free_words(data: ReadingData, in_force: InForce) -> str:
    """What a reading that no check asked for is called in the record."""
    with in_force.speaking():
        return data.what or _("note")


def _refuse_what_does_not_fit(data: ReadingData) -> None:
    """Nothing is cut short in silence: what is longer than its column is refused beside its field."""
    for name in ("typed", "typed_second", "unit", "note", "not_taken", "late_reason", "paper_form", "what"):
        most = Reading._meta.get_field(name).max_length or LONGEST_TEXT  # type: ignore[union-attr]
        if len(getattr(data, name).strip()) > most:
            raise Nonsense(name, _("This is too long: %(most)s characters are kept.") % {"most": most})


def _parse_numbers(
    reading: Reading, kind: str, monitoring: MonitoringDef | None, instrument: InstrumentDef | None, in_force: InForce
) -> None:
    if kind in ("number", "pair", "count"):
        reading.value = _number(reading.typed, "typed", reading, monitoring, instrument, in_force)
    if kind == "pair":
        second = recorder_of(monitoring, in_force) or instrument
        reading.value_second = _number(reading.typed_second, "typed_second", reading, monitoring, second, in_force)
    if kind == "count" and reading.value is not None and (reading.value < 0 or reading.value % 1):
        raise Nonsense("typed", _("Enter a whole number, zero or more."))


def _instrument(data: ReadingData, monitoring: MonitoringDef | None, in_force: InForce) -> InstrumentDef | None:
    measured = monitoring is not None and monitoring.answer.kind in ("number", "pair")
    code = data.instrument
    if not code and monitoring is not None and measured:
        code = usual_instrument(monitoring, data.subject, in_force)
        if not code and monitoring.instruments:
            raise Nonsense("instrument", _("Choose the instrument that was read."))
    if not code:
        return None
    found = next((one for one in in_force.plan.instruments if one.code == code), None)
    if found is None:
        raise Nonsense("instrument", _("There is no instrument with this number."))
    if measured or data.unit:
        unit = data.unit or (monitoring.answer.unit if monitoring else "")
        if not fits(found.unit, unit):
            raise Nonsense("instrument", _("%(which)s does not measure in %(unit)s.") % {"which": code, "unit": unit})
    return found


def fits(unit: str, other: str) -> bool:
    """Whether a value in one unit can be said in the other."""
    try:
        exact(Decimal(0), unit, other)
    except UnitError:
        return False
    return True


def usual_instrument(monitoring: MonitoringDef, subject: str, in_force: InForce) -> str:
    """The one of the check's instruments that stands on the subject (a recorder last); else its only one; else none."""
    named = [one for one in in_force.plan.instruments if one.code in monitoring.instruments]
    here = sorted(
        (one for one in named if one.place_code == subject), key=lambda one: ("recording" in one.role, one.code)
    )
    if here:
        return here[0].code
    reads = [one for one in named if "recording" not in one.role] or named
    return reads[0].code if len(reads) == 1 else ""


def recorder_of(monitoring: MonitoringDef | None, in_force: InForce) -> InstrumentDef | None:
    """The recording instrument of a pair, if the plan names one."""
    named = monitoring.instruments if monitoring else ()
    return next((one for one in in_force.plan.instruments if one.code in named and "recording" in one.role), None)


def _copy_instrument(reading: Reading, instrument: InstrumentDef) -> None:
    # The plan's list is as of approval; the instrument's own row knows later calibrations (revision records).
    # All numbers stay in the instrument's own unit, exactly as its record has them.
    row = Instrument.objects.filter(code=instrument.code).first()
    reading.instrument = instrument.code
    reading.instrument_name = row.name if row else instrument.name
    reading.instrument_role = row.role if row else instrument.role
    reading.instrument_unit = instrument.unit
    reading.correction = row.correction if row else Decimal(instrument.correction)
    reading.accuracy = row.accuracy if row else Decimal(instrument.accuracy)
    reading.calibration_due = row.calibration_due if row else date.fromisoformat(instrument.calibration_due)


def _number(
    typed: str,
    field_name: str,
    reading: Reading,
    monitoring: MonitoringDef | None,
    instrument: InstrumentDef | None,
    in_force: InForce,
) -> Decimal:
    try:
        value = parse_number(typed, in_force.plan.plant.decimal_mark)
    except NumberError as error:
        raise Nonsense(field_name, _(str(error))) from error
    low, high, unit = _plausible(monitoring, instrument, reading.unit)
    try:
        shown = exact(value, reading.unit, unit)
    except UnitError as error:
        raise Nonsense("unit", _("This unit does not fit the check.")) from error
    if (low is not None and shown < low) or (high is not None and shown > high):
        ends = {
            "low": plain(low) if low is not None else "…",
            "high": plain(high) if high is not None else "…",
        }
        if instrument is None:
            words = {**ends, "given": f"{typed} {reading.unit}", "unit": unit}
            raise Nonsense(
                field_name, _("%(given)s is outside what this takes: %(low)s to %(high)s %(unit)s.") % words
            )
        words = {**ends, "typed": typed, "unit": reading.unit, "what": instrument.code, "own": unit}
        raise Nonsense(
            field_name,
            _("%(typed)s %(unit)s is outside what %(what)s can show (%(low)s to %(high)s %(own)s). Look again.")
            % words,
        )
    return value


def _plausible(
    monitoring: MonitoringDef | None, instrument: InstrumentDef | None, unit: str
) -> tuple[Decimal | None, Decimal | None, str]:
    """What can be read at all: by the instrument, else by the plan, else by the kind of unit."""
    if instrument is not None:
        return Decimal(instrument.low), Decimal(instrument.high), instrument.unit
    own = (monitoring.answer.unit if monitoring else "") or unit
    low, high = PLAUSIBLE.get(own, (Decimal(0), None))
    if monitoring is not None:
        low = Decimal(monitoring.answer.low) if monitoring.answer.low else low
        high = Decimal(monitoring.answer.high) if monitoring.answer.high else high
    return low, high, own


def _require_answer(reading: Reading, kind: str, monitoring: MonitoringDef | None) -> None:
    if kind == "places":
        known = monitoring.answer.places if monitoring else ()
        answers = place_answers(monitoring) if monitoring else PLACE_ANSWERS
        if any(place not in known or answer not in answers for place, answer in reading.places.items() if answer):
            raise Nonsense("places", _("Choose one of the answers for each place."))
        empty = [place for place in known if not reading.places.get(place)]
        if empty:
            raise Nonsense("places", _("Answer for each place. Still open: %(which)s.") % {"which": ", ".join(empty)})
        return
    if kind == "photo":
        if not reading.file:
            raise Nonsense("file", _("Take the photo."))
        return
    if not reading.typed and not reading.note:
        raise Nonsense("typed", _("An answer is needed here."))
    if kind == "yes_no" and reading.typed not in ("yes", "no"):
        raise Nonsense("typed", _("Answer yes or no."))
    if kind == "choice" and monitoring and reading.typed not in monitoring.answer.choices:
        raise Nonsense("typed", _("Choose one of the answers."))


def place_answers(monitoring: MonitoringDef) -> tuple[str, ...]:
    """What may be answered for each place of a list; the plan's own words, else ok and not ok."""
    return monitoring.answer.choices or PLACE_ANSWERS
