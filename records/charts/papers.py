"""What belongs to a chart: photos, the operator's signature, the regulator's initials, the fit, the comparison."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from records.charts import consequences, queries, recorders
from records.charts.data import ComparedData, InitialsData
from records.charts.models import (
    AGREE,
    BACK,
    DISAGREE,
    FRONT,
    ChartCompared,
    ChartFit,
    ChartPhoto,
    ChartSigned,
    RegulatorInitials,
)
from records.charts.queries import Chart
from records.checks.photos import Photo
from records.deviations.errors import Refused
from records.flow.common import not_ahead, plan_at, same_or_different
from records.ledger import files
from records.ledger.actions import Actor, act

_SAID_INITIALS = ("recorder", "written_on", "initials", "name", "accuracy", "chart", "note")
_SAID_COMPARED = ("chart", "photo", "fit", "outcome", "disagree_at", "because")


def chart_or_refused(number: int) -> Chart:
    """The chart of a number; Refused when there is none."""
    chart = queries.chart_of(number)
    if chart is None:
        raise Refused(_("There is no such chart."))
    return chart


def keep_photo(by: Actor, chart: int, side: str, photo: Photo, note: str, form_id: UUID) -> ChartPhoto:
    """Keep a photo of one side. The bytes are on disk before the act; its entry and the photo's stand together."""
    found = chart_or_refused(chart)
    if side not in (FRONT, BACK):
        raise Refused(_("Choose which side it shows."), "side")
    sha256 = files.put(photo.data)
    row = ChartPhoto(form_id=form_id, chart=found.number, side=side, file=sha256, note=note.strip())
    with act(by) as a:
        if saved := ChartPhoto.objects.filter(form_id=form_id).first():
            return same_or_different(saved, row, ("chart", "side", "file", "note"), by)
        files.keep(a, photo.data, photo.name, photo.mime)
        return a.write(row)


def sign_chart(by: Actor, number: int) -> ChartSigned:
    """The operator's signature under a chart that is off, for all that stands of it now; the same again is one."""
    with act(by) as a:
        chart = chart_or_refused(number)
        if chart.off is None:
            raise Refused(_("A chart is signed when it is off: write first that it was taken off."))
        papers = queries.papers_of([chart])[chart.number]
        covers = queries.covered_by_a_signature(chart, papers)
        for one in papers.signed:
            if one.by_id == by.person_id and one.covers == covers:
                return one
        return a.write(ChartSigned(chart=chart.number, covers=covers))


def copy_initials(by: Actor, data: InitialsData) -> RegulatorInitials:
    """Copy the regulator's initials and time accuracy from paper. They stay the regulator's: the copy signs nothing."""
    now = clock.now()
    in_force = plan_at(now)
    recorder = recorders.recorder_of(data.recorder, in_force)
    if recorder is None:
        raise Refused(_("The plan knows no such recorder."), "recorder")
    if data.written_on > in_force.calendar.local(now).date():
        raise Refused(_("That day is still to come."), "written_on")
    if data.written_on < date(2000, 1, 1):
        raise Refused(_("Write the day as 2026-03-03."), "written_on")
    for field in ("initials", "name", "accuracy"):
        if not getattr(data, field).strip():
            raise Refused(_("Write it as it stands on the paper."), field)
    year, quarter = queries.quarter_of(data.written_on)
    row = RegulatorInitials(
        form_id=data.form_id,
        recorder=recorder.code,
        recorder_name=recorder.name,
        year=year,
        quarter=quarter,
        written_on=data.written_on,
        initials=data.initials.strip(),
        name=data.name.strip(),
        accuracy=data.accuracy.strip(),
        chart=_chart_of_recorder(data),
        note=data.note.strip(),
    )
    with act(by) as a:
        if saved := RegulatorInitials.objects.filter(form_id=data.form_id).first():
            return same_or_different(saved, row, _SAID_INITIALS, by)
        return a.write(row)


def _chart_of_recorder(data: InitialsData) -> int | None:
    if data.chart is None:
        return None
    chart = queries.chart_of(data.chart)
    if chart is None or chart.on.recorder != data.recorder:
        raise Refused(_("That chart is not one of this recorder."), "chart")
    return chart.number


def compare(by: Actor, data: ComparedData) -> ChartCompared:
    """Keep what a person found with the trace laid over the photo; a disagreement is a deviation: not proven."""
    chart = chart_or_refused(data.chart)
    if not ChartPhoto.objects.filter(number=data.photo, chart=chart.number).exists():
        raise Refused(_("That is no photo of this chart."), "photo")
    if data.outcome not in (AGREE, DISAGREE):
        raise Refused(_("Say whether they agree."), "outcome")
    if data.fit is None or not ChartFit.objects.filter(number=data.fit, photo=data.photo).exists():
        raise Refused(_("The trace was not laid over this photo: mark the photo first."))
    if data.outcome == DISAGREE:
        _refuse_half_disagreement(data, chart)
    row = ChartCompared(
        form_id=data.form_id,
        chart=chart.number,
        photo=data.photo,
        fit=data.fit,
        outcome=data.outcome,
        disagree_at=data.disagree_at if data.outcome == DISAGREE else None,
        because=data.because.strip(),
    )
    in_force = plan_at(data.disagree_at or clock.now())
    with act(by) as a:
        if saved := ChartCompared.objects.filter(form_id=data.form_id).first():
            return same_or_different(saved, row, _SAID_COMPARED, by)
        a.write(row)
        if row.outcome == DISAGREE:
            consequences.after_compared(a, chart, row, in_force)
    return row


def _refuse_half_disagreement(data: ComparedData, chart: Chart) -> None:
    if data.disagree_at is None:
        raise Refused(_("Write at what time they disagree."), "disagree_at")
    not_ahead(data.disagree_at, "disagree_at")
    if not chart.on.put_on_at <= data.disagree_at <= chart.until(clock.now()):
        raise Refused(_("The chart was not on at that time."), "disagree_at")
    if not data.because.strip():
        raise Refused(_("Write what was seen."), "because")
