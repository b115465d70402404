"""A farm's own milk: its counts are a line of the farm, which holds no load; a drug residue holds the loads with it."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from plant.process.laboratory import FOUND, NOT_FOUND
from records.laboratory.models import LabResult, Sample
from records.laboratory.queries import root_of, standing
from records.receiving.models import LoadEvent
from records.receiving.pickups import lots_of
from records.receiving.state import Load
from records.run_rows.queries import runs_between

RESIDUE_TEST = "antibiotic"
PICK_UP = timedelta(hours=72)  # milk of a farm's tank may be that old; common practice, no source
CLEAN_WITHIN = timedelta(days=60)  # a farm whose last clean test is older: the days before the pick-up alone


def is_farms(sample: Sample) -> bool:
    """Whether a sample is of one farm's milk, and of no lot of the plant."""
    return bool(sample.farm) and sample.lot is None


def holds_loads(row: LabResult, sample: Sample) -> bool:
    """Whether it is a residue found in a farm's milk."""
    return row.test == RESIDUE_TEST and row.sign == FOUND and is_farms(sample)


def loads_of(sample: Sample, until: datetime) -> list[Load]:
    """The loads with that farm's milk that arrived from its last clean residue test, or the pick-up before, until then.

    Each load was screened by itself before it was processed (PMO Appendix N), as one among several farms' milk; what a
    producer's own test finds goes back to the loads that its milk was in.
    """
    farm = sample.farm.casefold()
    loads = runs_between(LoadEvent, _since(sample), until + timedelta(minutes=1))
    return [one for one in loads if any(str(each.get("farm", "")).casefold() == farm for each in one.first.farms)]


def _since(sample: Sample) -> datetime:
    start = sample.observed_at - CLEAN_WITHIN
    earlier = standing(
        Sample.objects.filter(farm__iexact=sample.farm, lot=None, observed_at__range=(start, sample.observed_at))
    ).exclude(number=root_of(sample))
    by_root = {root_of(one): one.observed_at for one in earlier}
    clean = standing(LabResult.objects.filter(sample__in=list(by_root), test=RESIDUE_TEST, sign=NOT_FOUND))
    moments = [by_root[one] for one in clean.values_list("sample", flat=True)]
    return max(moments, default=sample.observed_at - PICK_UP)


def lots_of_loads(loads: list[Load]) -> list[tuple[UUID, datetime, str]]:
    """(lot, held from, vessel) of what they were unloaded into."""
    return [one for load in loads for one in lots_of(load)]
