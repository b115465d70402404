"""What the invented days sample, and what the laboratory found, by the Samples pages' own acts."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from plant import clock
from records.demo import acts
from records.demo.hand import form_id
from records.laboratory import actions
from records.laboratory.data import ResultData, SampleData
from records.laboratory.models import RETAINED, Sample

if TYPE_CHECKING:
    from records.demo.doing import Stage

LABORATORY = "Millrace Dairy Laboratory (invented)"
BENCH = "the plant's bench"
KEPT_DAYS = 21
SECONDS_EACH = 20.0


def sampled(stage: Stage, one: acts.Sampled) -> None:
    """Bottles filled, one after the other; the bench's own go nowhere."""
    retained = one.kind == RETAINED
    actions.take(
        stage.by,
        SampleData(
            form_id=form_id("sample", stage.plant_day, one),
            code=_code(stage, one.code),
            kind=one.kind,
            taken_at=clock.now(),
            lot_code=one.lot.format(day=f"{stage.plant_day:%y%m%d}"),
            place=one.place,
            farm=one.farm,
            temperature="" if retained or one.bench else "36.8",
            temperature_unit="" if retained or one.bench else "°F",
            sent_to="" if retained else BENCH if one.bench else LABORATORY,
            tests=one.tests,
            kept_where="Walk-in cooler, shelf of retained samples" if retained else "",
            kept_until=stage.plant_day + timedelta(days=KEPT_DAYS) if retained else None,
            words=one.words,
        ),
    )
    stage.hand.on(SECONDS_EACH)


def found(stage: Stage, one: acts.Found) -> None:
    """Results as they came in, each as the laboratory wrote it."""
    sample = Sample.objects.get(code=_code(stage, one.code, one.days_ago))
    for test, typed in one.results:
        actions.record_result(
            stage.by,
            ResultData(
                form_id=form_id("result", stage.plant_day, one, test),
                sample=sample.number,
                test=test,
                typed=typed,
                read_at=clock.now(),
                laboratory=sample.sent_to,
                batch=one.batch,
                analyst=stage.by.name if sample.sent_to == BENCH else "J. Fallow (invented)",
                words=one.words,
            ),
        )
        stage.hand.on(SECONDS_EACH)


def _code(stage: Stage, code: str, days_ago: int = 0) -> str:
    """What stands on the bottle: the day it was filled, then its number."""
    return f"{stage.worked(days_ago):%m%d}-{code}"
