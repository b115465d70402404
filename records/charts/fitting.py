"""From marks on a photo to a fit, and its record: what was typed or tapped stays; what gives no drawing is refused."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from plant.pictures.chart_geometry import ACROSS, DOWN, CircularFit, Fit, NoFit, PenArm, StripFit, pen_arm
from plant.pictures.strip_time import milliseconds
from plant.process.said import again
from records.charts import queries
from records.charts.data import FitData
from records.charts.models import CIRCULAR, STRIP, ChartFit, ChartPhoto
from records.charts.queries import Chart
from records.checks.entry import fits
from records.deviations.errors import Refused
from records.flow.common import plan_at, same_or_different, typed_number
from records.ledger.actions import Actor, act
from records.people.plans import InForce

CLOCKWISE, OTHER_WAY = "clockwise", "counterclockwise"
MARKS = {
    CIRCULAR: (
        "center_x", "center_y", "inner_x", "inner_y", "inner_value", "outer_x", "outer_y", "outer_value",
        "mark_x", "mark_y", "turns",
    ),
    STRIP: (
        "first_x", "first_y", "first_value", "second_x", "second_y", "second_value", "runs",
    ),
}  # fmt: skip
# Measured on the paper and the recorder with one ruler, in any one unit: all of them, or none.
ARM = ("outer_ruler", "arm_length", "arm_pivot", "arm_bend")
WORDS = ("turns", "runs", "arm_bend")
FARTHEST = 10_000  # a mark lies on the photo, or a little beside it (a chart's center may)
_SAID = ("chart", "photo", "shape", "unit", "marks", "first_at", "second_at")


def fit_of(row: ChartFit, chart: Chart, in_force: InForce) -> Fit:
    """The fit of kept or unsaved marks; Refused beside the mark that cannot be."""
    given = {name: row.marks.get(name, "") for name in (*MARKS[row.shape], *ARM)}
    try:
        if row.shape == STRIP:
            return _strip(given, row, in_force)
        return _circular(given, row, chart, in_force)
    except NoFit as error:
        raise Refused(again(error.sentence, _), error.mark) from error


def _circular(given: dict[str, str], row: ChartFit, chart: Chart, in_force: InForce) -> CircularFit:
    if given["turns"] not in (CLOCKWISE, OTHER_WAY):
        raise Refused(_("Say which way the printed hours go."), "turns")
    number = {name: _number(given, name, in_force) for name in MARKS[CIRCULAR] if name not in WORDS}
    inner, outer = (
        ((number[f"{one}_x"] - number["center_x"]) ** 2 + (number[f"{one}_y"] - number["center_y"]) ** 2) ** 0.5
        for one in ("inner", "outer")
    )
    return CircularFit(
        number["center_x"],
        number["center_y"],
        inner,
        number["inner_value"],
        outer,
        number["outer_value"],
        number["mark_x"],
        number["mark_y"],
        milliseconds(row.first_at),
        chart.on.span_min * 60_000,
        given["turns"] == CLOCKWISE,
        _arm(given, inner, outer, in_force),
    )


def _arm(given: dict[str, str], inner: float, outer: float, in_force: InForce) -> PenArm | None:
    """The pen's arm, in units of the photo: what was measured with a ruler, by the circle that is known in both."""
    if not any(given[name] for name in ARM):
        return None
    missing = [name for name in ARM if not given[name]]
    if missing:
        raise Refused(_("Of the pen's arm all four are needed, or none."), missing[0])
    if given["arm_bend"] not in (CLOCKWISE, OTHER_WAY):
        raise Refused(_("Say which way the time lines bend."), "arm_bend")
    measured = {name: _number(given, name, in_force) for name in ARM if name not in WORDS}
    for name, value in measured.items():
        if value <= 0:
            raise Refused(_("This has to be more than zero."), name)
    scale = outer / measured["outer_ruler"]
    bends = given["arm_bend"] == CLOCKWISE
    return pen_arm(measured["arm_length"] * scale, measured["arm_pivot"] * scale, bends, inner, outer)


def _strip(given: dict[str, str], row: ChartFit, in_force: InForce) -> StripFit:
    if given["runs"] not in (ACROSS, DOWN):
        raise Refused(_("Say which way time runs."), "runs")
    if row.second_at is None:
        raise Refused(_("Enter the time of the second corner."), "second_at")
    number = {name: _number(given, name, in_force) for name in MARKS[STRIP] if name not in WORDS}
    return StripFit(
        number["first_x"],
        number["first_y"],
        milliseconds(row.first_at),
        number["first_value"],
        number["second_x"],
        number["second_y"],
        milliseconds(row.second_at),
        number["second_value"],
        given["runs"],
    )


def _number(given: dict[str, str], name: str, in_force: InForce) -> float:
    value = typed_number(given[name], in_force, name, negative=True)
    if value is None:
        raise Refused(_("Enter a number."), name)
    if abs(value) > FARTHEST:
        raise Refused(_("Enter a number within %(most)d.") % {"most": FARTHEST}, name)
    return float(value)


def row_of(data: FitData) -> tuple[ChartFit, Chart, Fit]:
    """The unsaved row of marks with its fit, for looking at it before it is kept. Refused beside the mark."""
    photo = ChartPhoto.objects.filter(number=data.photo).first() if 0 < data.photo < 2**63 else None
    chart = queries.chart_of(photo.chart) if photo else None
    if photo is None or chart is None:
        raise Refused(_("There is no such photo."))
    if data.shape != chart.on.shape:
        raise Refused(_("The chart is of another kind."))
    in_force = plan_at(chart.on.put_on_at)
    named = next((one for one in in_force.plan.instruments if one.code == chart.on.recorder), None)
    if not data.unit or (named is not None and not fits(named.unit, data.unit)):
        raise Refused(_("Choose the unit that is printed on the chart."), "unit")
    marks = {name: data.marks.get(name, "").strip() for name in (*MARKS[data.shape], *ARM)}
    row = ChartFit(
        form_id=data.form_id,
        chart=chart.number,
        photo=photo.number,
        shape=data.shape,
        unit=data.unit,
        marks={name: text for name, text in marks.items() if text},
        first_at=data.first_at,
        second_at=data.second_at if data.shape == STRIP else None,
    )
    _near(row.first_at, chart, "first_at")
    if row.second_at is not None:
        _near(row.second_at, chart, "second_at")
    return row, chart, fit_of(row, chart, in_force)


def _near(moment: datetime, chart: Chart, field: str) -> None:
    """A printed mark may lie before or after what the pen wrote, but not by more than the chart is long."""
    if not chart.on.put_on_at - chart.span <= moment <= chart.span_ends_at + chart.span:
        raise Refused(_("The chart does not reach that time."), field)


def keep_fit(by: Actor, data: FitData) -> ChartFit:
    """Keep the marks on a photo, once for each form; the newest fit of a photo is the one drawn."""
    row, _chart, _fit = row_of(data)
    with act(by) as a:
        if saved := ChartFit.objects.filter(form_id=data.form_id).first():
            return same_or_different(saved, row, _SAID, by)
        return a.write(row)
