"""Keeping samples and results: each once for its form, judged at once, with what follows for product."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any, TypeVar

from django.utils.translation import gettext as _

from plant import clock
from plant.process.errors import CalculationError
from plant.process.laboratory import CONTROLS, TESTS, Kind, read_result
from plant.process.said import again
from records.deviations.errors import Refused
from records.flow import closed_days
from records.flow.choices import product_of
from records.flow.common import label, lot_by_id, name_of, not_ahead, plan_at, same_or_different, typed_number
from records.flow.moving import may_amend
from records.flow.queries import held_or_running
from records.judging.actions import write_verdict
from records.judging.queries import governing
from records.laboratory import consequences
from records.laboratory.data import ResultData, SampleData
from records.laboratory.judging import judge
from records.laboratory.models import (
    FARM,
    KINDS,
    LOT,
    OFFICIAL,
    PLATE,
    RETAINED,
    SITE,
    VESSEL,
    LabResult,
    Sample,
)
from records.laboratory.queries import results_of, root_of, sample_of
from records.ledger.actions import Act, Actor, act
from records.lots.models import Lot
from records.people.plans import InForce
from records.recall.codes import lot_meant

S = TypeVar("S", Sample, LabResult)
_GIVEN = {
    "id", "number", "act", "content_version", "received_at", "by_id", "by_name", "by_initials", "by_role", "tablet",
    "plan_number", "lot_label", "product", "product_name", "lot", "root", "zone", "sample_code", "place_name",
}  # fmt: skip
TEMPERATURES = ("°F", "°C")
MOST_ROWS = 500
MOST_WORDS = 4000


def take(by: Actor, said: SampleData) -> Sample:
    """A sample taken, or with `amends` as it should have been written. Raises Refused, DifferentContent."""
    not_ahead(said.taken_at, "taken_at")
    in_force = plan_at(said.taken_at)
    row = _sample(by, said, in_force)
    with act(by) as a:
        if saved := _saved(by, row):
            return saved
        if said.amends is not None:
            _replace_sample(by, row)
        return a.write(row, observed_at=said.taken_at)


def record_result(by: Actor, said: ResultData) -> LabResult:
    """A result with its verdict and what follows from it, or with `amends` as it should have been written."""
    row, sample, in_force = _result(said)
    with act(by) as a:
        if saved := _saved(by, row):
            return saved
        return _keep(a, by, row, sample, in_force)


def record_table(by: Actor, rows: Sequence[ResultData]) -> list[LabResult]:
    """Every result of a laboratory's table in one act, or none. The same table again gives what it gave before."""
    if not rows:
        raise Refused(_("There is no result in it."), "table")
    made = [_result(replace(one, given="in a table")) for one in rows]
    with act(by) as a:
        kept = []
        for row, sample, in_force in made:
            kept.append(_saved(by, row) or _keep(a, by, row, sample, in_force))
    return kept


def why_not(by: Actor, row: Sample | LabResult) -> str:
    """Empty when the person may amend this row, else the sentence that says who may."""
    return may_amend(by, row, closed_days.is_closed(plan_at(row.observed_at).calendar.plant_day(row.observed_at)))


# --- samples


def _sample(by: Actor, said: SampleData, in_force: InForce) -> Sample:
    _one_of(said.kind, KINDS, "kind")
    if not said.code.strip():
        raise Refused(_("Write what stands on the bottle."), "code")
    unknown = [one for one in said.tests if one not in TESTS]
    if unknown or (not said.tests and said.kind != RETAINED):
        raise Refused(_("Choose at least one test."), "tests")
    if any((one in CONTROLS) is not (said.kind == PLATE) for one in said.tests):
        raise Refused(_("Tests of control plates and of samples do not go together: make two of it."), "tests")
    _too_long(said.words)
    temperature = typed_number(said.temperature.strip(), in_force, "temperature", negative=True)
    if temperature is not None:
        _one_of(said.temperature_unit, TEMPERATURES, "temperature_unit")
        if not -40 <= temperature <= 212:
            raise Refused(_("No sample is carried at that temperature."), "temperature")
    row = Sample(
        form_id=said.form_id,
        code=said.code.strip(),
        kind=said.kind,
        farm=said.farm.strip(),
        taken_by=said.taken_by.strip() or by.name,
        temperature_typed=said.temperature.strip(),
        temperature=temperature,
        temperature_unit=said.temperature_unit if temperature is not None else "",
        sent_to=said.sent_to.strip(),
        tests=list(said.tests),
        kept_where=said.kept_where.strip(),
        kept_until=said.kept_until,
        words=said.words.strip(),
        amends=said.amends,
        amend_reason=said.amend_reason.strip(),
        void=said.void,
        plan_number=in_force.number,
        observed_at=said.taken_at,
    )
    _what_of(row, said, in_force)
    return row


def _what_of(row: Sample, said: SampleData, in_force: InForce) -> None:
    """Lot, place and product of a sample, as its kind asks."""
    if said.place:
        if said.place not in in_force.names:
            raise Refused(_("The plan knows no such place."), "place")
        row.place, row.place_name = said.place, name_of(in_force, said.place)
    if said.lot_code.strip():
        _of_lot(row, lot_meant(said.lot_code, clock.now().year, "lot_code"), in_force)
    if row.kind in (LOT, RETAINED) and row.lot is None:
        raise Refused(_("Write the code of the lot."), "lot_code")
    if row.kind in (VESSEL, SITE) and not row.place:
        raise Refused(_("Choose where it was taken."), "place")
    if row.kind == FARM and not row.farm:
        raise Refused(_("Write which farm the milk is of."), "farm")
    if row.kind == OFFICIAL and not (row.lot or row.place or row.farm):
        raise Refused(_("Say of what it was taken: a lot, a place or a farm."), "lot_code")
    if row.kind == RETAINED and not (row.kept_where and row.kept_until):
        raise Refused(_("Write where it is kept and until when."), "kept_where" if not row.kept_where else "kept_until")
    if row.kept_until is not None and row.kept_until < in_force.calendar.local(said.taken_at).date():
        raise Refused(_("This is before it was taken."), "kept_until")
    if row.kind == SITE:
        zones = {one.zone for one in in_force.plan.sampled if one.place == row.place and one.zone}
        row.zone = min(zones, default=0)
        return
    if row.lot is None and row.place and row.kind != PLATE:
        held = held_or_running(row.place, said.taken_at)
        if held is not None and held.lot is not None and (found := lot_by_id(held.lot)) is not None:
            _of_lot(row, found, in_force)
        if held is not None and held.product and not row.product:
            _of_product(row, held.product, in_force)
    if row.kind == FARM:
        raw = next((one.code for one in in_force.plan.products if one.family == "raw milk"), "")
        _of_product(row, raw, in_force)


def _of_lot(row: Sample, lot: Lot, in_force: InForce) -> None:
    row.lot, row.lot_label = lot.id, label(lot, in_force)
    row.product, row.product_name = lot.product, lot.product_name


def _of_product(row: Sample, code: str, in_force: InForce) -> None:
    product = product_of(in_force, code)
    if product is not None:
        row.product, row.product_name = product.code, product.name


def _replace_sample(by: Actor, row: Sample) -> None:
    old = _old(by, row)
    row.root = root_of(old)
    if not results_of(row.root).exists():
        return
    if row.void:
        raise Refused(_("It has results: say first that these did not happen."), "void")
    # The verdicts and holds of its results stand on what it was taken of, and when.
    if (row.lot, row.place, row.farm, row.kind, row.observed_at) != (
        old.lot, old.place, old.farm, old.kind, old.observed_at,
    ):  # fmt: skip
        raise Refused(_("It has results: what it was taken of, and when, cannot change under them."), "kind")


# --- results


def _result(said: ResultData) -> tuple[LabResult, Sample, InForce]:
    sample = sample_of(said.sample)
    if sample is None or sample.void:
        raise Refused(_("There is no such sample."), "sample")
    if said.test not in TESTS:
        raise Refused(_("Choose one of the tests."), "test")
    not_ahead(said.read_at, "read_at")
    if said.read_at < sample.observed_at - timedelta(minutes=1):
        raise Refused(_("This is before the sample was taken."), "read_at")
    if (said.test in CONTROLS) is not (sample.kind == PLATE):
        raise Refused(_("A control plate has its own tests, and a sample has none of them."), "test")
    if sample.kind == PLATE and not said.batch.strip():
        raise Refused(_("Write the batch of plates that it was poured with."), "batch")
    _too_long(said.words)
    in_force = plan_at(sample.observed_at)  # the version in force when it was taken judges it
    test = TESTS[said.test]
    try:
        read = read_result(test, said.typed, in_force.plan.plant.decimal_mark)
    except CalculationError as error:
        raise Refused(again(error.sentence, _), "typed") from error
    row = LabResult(
        form_id=said.form_id,
        sample=root_of(sample),
        sample_code=sample.code,
        test=test.key,
        typed=" ".join(said.typed.split()),
        value=read.count.value if read.count is not None else None,
        sign=read.sign if test.kind is Kind.SIGN else (read.count.sign if read.count is not None else ""),
        unit=test.unit,
        estimated=read.estimated,
        too_many=read.too_many,
        laboratory=said.laboratory.strip(),
        method=said.method.strip(),
        analyst=said.analyst.strip(),
        given=said.given,
        batch=" ".join(said.batch.split()),
        words=said.words.strip(),
        amends=said.amends,
        amend_reason=said.amend_reason.strip(),
        void=said.void,
        plan_number=in_force.number,
        observed_at=said.read_at,
    )
    return row, sample, in_force


def _keep(a: Act, by: Actor, row: LabResult, sample: Sample, in_force: InForce) -> LabResult:
    follows = None
    controls: list[LabResult] = []
    if row.amends is not None:
        old = _old(by, row)
        if (old.sample, old.test) != (row.sample, row.test):
            raise Refused(_("Say that this one did not happen, and record the other."), "test")
        verdict = governing(LabResult.KIND, [old.number]).get(old.number)
        follows = verdict.number if verdict is not None else None
        controls.append(old)
    kept = a.write(row, observed_at=row.observed_at)
    if kept.void:
        if kept.test in CONTROLS:
            consequences.judge_batches(a, controls, in_force)
        elif sample.lot is not None:
            consequences.wait_again(a, kept, sample.lot, in_force)
        consequences.judge_later(a, [kept], in_force)
        return kept  # it ends nothing and releases nothing
    judged, asked = judge(kept, sample, in_force)
    if judged is not None:
        why = "amendment" if row.amends is not None else "entry"
        write_verdict(a, LabResult.KIND, kept.number, judged, in_force, why, follows)
    consequences.follow(a, kept, sample, judged, asked, in_force)
    if kept.test in CONTROLS:
        consequences.judge_batches(a, [*controls, kept], in_force)
    consequences.judge_later(a, [kept], in_force)
    return kept


# --- both


def _saved(by: Actor, row: S) -> S | None:
    model: Any = type(row)
    saved: S | None = model.objects.filter(by_id=by.person_id, form_id=row.form_id).first()
    if saved is None:
        return None
    columns = [one.name for one in model._meta.concrete_fields if one.name not in _GIVEN]
    return same_or_different(saved, row, columns, by)


def _old(by: Actor, row: S) -> S:
    model: Any = type(row)
    old: S | None = model.objects.filter(number=row.amends).first()
    if old is None:
        raise Refused(_("There is no such entry to amend."))
    if not row.amend_reason:
        raise Refused(_("Write why it is amended."), "amend_reason")
    if refusal := why_not(by, old):
        raise Refused(refusal)
    if model.objects.filter(amends=row.amends).exists():
        raise Refused(_("This entry was amended already. Amend the one that stands."))
    return old


def _one_of(value: str, known: tuple[str, ...], field: str) -> None:
    if value not in known:
        raise Refused(_("Choose one of the list."), field)


def _too_long(text: str) -> None:
    if len(text.strip()) > MOST_WORDS:
        raise Refused(_("This is too long: %(most)s characters are kept.") % {"most": MOST_WORDS}, "words")


def row_form_id(form_id: uuid.UUID, line: int) -> uuid.UUID:
    """The form of one line of a table: the same table sent twice is the same forms."""
    return uuid.uuid5(form_id, f"line {line}")
