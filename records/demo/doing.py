"""Each kind of act of the scenario done through the same actions as the pages use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from plant import clock
from records.checks import queries as checks
from records.checks.actions import amend_reading, record_reading, write_note
from records.checks.entry import ReadingData
from records.checks.models import Reading
from records.demo import (
    acts,
    blended,
    charted,
    filled,
    froze,
    looking,
    ran,
    recalled,
    received,
    recorders,
    sampled,
    trained,
    washing,
)
from records.demo.hand import Hand, form_id
from records.demo.reading import reading, who
from records.demo.staff import Crew
from records.deviations import actions as deviations
from records.deviations import holds
from records.deviations import queries as deviation_queries
from records.deviations.models import Deviation
from records.flow import actions as flow
from records.flow.data import EndData, EventData, MovementData
from records.ledger.actions import Actor
from records.people.plans import InForce
from records.traces import importing, incoming, kept_files
from records.traces.models import TraceFile

SECONDS_EACH = 35.0  # between two things that one person does one after the other


@dataclass(slots=True)
class Stage:
    """Where an act happens: the plant, its people, the day, the clock."""

    crew: Crew
    in_force: InForce
    hand: Hand
    plant_day: date

    def moment(self, text: str, days: int = 0) -> datetime:
        """"HH:MM" of the plant day in UTC; before the day's start it is the next morning."""
        hour, minute = (int(one) for one in text.split(":"))
        starts = int(self.in_force.plan.plant.day_starts[:2])
        day = self.plant_day + timedelta(days=days + (1 if hour < starts else 0))
        return self.in_force.calendar.utc(day, time(hour, minute))

    def worked(self, days_ago: int) -> date:
        """The plant day with production that is so many such days before this one."""
        day = self.plant_day
        for _each in range(days_ago):
            day -= timedelta(days=1)
            while all(one.closed for one in self.in_force.calendar.day_shifts(day)):
                day -= timedelta(days=1)
        return day

    @property
    def operator(self) -> str:
        """The sign-in name of the operator on shift."""
        return operator_at(self.in_force, clock.now())

    @property
    def by(self) -> Actor:
        """The operator on shift."""
        return self.crew.actor(self.operator)


def operator_at(in_force: InForce, moment: datetime) -> str:
    """Ines Alder has the mornings, Tomas Reed the evenings."""
    return "ines" if 4 <= in_force.calendar.local(moment).hour < 13 else "tomas"


def start_move(stage: Stage, one: acts.Move) -> int:
    """The movement as it begins; gives its number, for its end."""
    if one.via == ran.PRESS:
        return ran.product_in(stage, one)
    if one.via == froze.FREEZER:
        return froze.draw_begun(stage, one)
    if not one.source and (load := received.at_the_bay()) is not None:
        return received.unloading(stage, one, load)
    code = one.code.format(day=f"{stage.plant_day:%y%m%d}") if one.code else ""
    row = flow.record_movement(
        stage.by,
        MovementData(
            form_id=form_id("move", stage.plant_day, one),
            source=one.source,
            target=one.target,
            product=one.product,
            started_at=clock.now(),
            source_name=one.from_outside,
            target_name=one.to_outside,
            via=one.via,
            code=code,
        ),
    )
    return row.number


def end_move(stage: Stage, one: acts.Move, number: int) -> None:
    """Its end, with how much it was."""
    if one.via == ran.PRESS:
        ran.water_after(stage, one)
        return
    if one.via == froze.FREEZER:
        froze.draw_ended(stage, one)
        return
    if not one.source and received.unloaded(stage, one, number):
        return
    data = EndData(clock.now(), one.quantity, one.unit, "", one.measured_by, one.emptied)
    flow.end_movement(stage.by, number, data)


def ready(stage: Stage, one: acts.Ready) -> None:
    """Every gate of these places, read before there is anything due."""
    if one.product:
        begin = froze.begin if froze.FREEZER in one.places else ran.begin
        begin(stage, one)
    for monitoring in stage.in_force.plan.monitoring:
        first = monitoring.frequency.kind == "run_ends" and monitoring.frequency.first  # read on the press's water
        if monitoring.frequency.kind != "before_use" and not first:
            continue
        for place in one.places:
            if place in monitoring.subjects and (place == ran.PRESS or not first):
                data = reading(
                    monitoring, stage.in_force, place, seed=f"{monitoring.key}|{place}|{clock.now()}",
                    product_class=one.product_class,
                )  # fmt: skip
                record_reading(who(stage.crew, monitoring.role, stage.operator), data)
                stage.hand.on(SECONDS_EACH / 2)


def look(stage: Stage, one: acts.Look) -> None:
    """What is asked of an event, read before it begins."""
    if one.farm:
        received.arrived(stage, one)
    for monitoring in stage.in_force.plan.monitoring:
        if one.farm and monitoring.key in received.BY_THE_LOAD:
            continue
        if monitoring.frequency.kind == "each_event" and monitoring.frequency.event == one.event:
            data = reading(
                monitoring, stage.in_force, one.place, seed=f"{monitoring.key}|{one.place}|{clock.now()}"
            )
            record_reading(who(stage.crew, monitoring.role, stage.operator), data)
            stage.hand.on(SECONDS_EACH)


def happened(stage: Stage, one: acts.Happened) -> None:
    """An event."""
    reference = one.reference.format(day=f"{stage.plant_day:%y%m%d}")
    flow.record_event(
        stage.by, EventData(form_id("event", stage.plant_day, one), one.event, clock.now(), one.place, reference)
    )
    if one.event == "batch":
        blended.tested(stage, one)


def stock(stage: Stage, one: acts.Stock) -> None:
    """What stood there when the book began."""
    flow.record_movement(
        stage.by,
        MovementData(
            form_id=form_id("stock", one),
            source="",
            source_name="stock before the daybook began",
            target=one.place,
            product=one.product,
            started_at=clock.now(),
            ended_at=clock.now(),
            quantity_typed=one.quantity,
            unit=one.unit,
            measured_by="count",
        ),
    )


def last_reading(key: str, place: str) -> Reading:
    """The last governing reading of a check at a place."""
    rows = Reading.objects.filter(monitoring_key=key, subject=place).order_by("observed_at", "number")
    return checks.governing(rows)[-1]


def again(stage: Stage, one: acts.Again) -> None:
    """A reading that no check asked for."""
    monitoring = stage.in_force.plan.monitoring_by_key(one.key)
    assert monitoring is not None, one.key
    say = acts.Say(one.key, typed=one.typed, note=one.note)
    data = reading(monitoring, stage.in_force, one.place, seed=f"again|{one}|{stage.plant_day}", say=say)
    record_reading(who(stage.crew, monitoring.role, stage.operator), data)


def noted(stage: Stage, one: acts.Noted) -> None:
    """A note under a reading."""
    write_note(stage.by, last_reading(one.key, one.place), one.text, form_id("note", stage.plant_day, one))


def amended(stage: Stage, one: acts.Amended) -> None:
    """A slip of the finger, put right by whoever made it; both stay."""
    old = last_reading(one.key, one.place)
    data = ReadingData(
        form_id=form_id("amend", stage.plant_day, one),
        subject=one.place,
        monitoring_key=one.key,
        typed=one.typed,
        instrument=old.instrument,
        agitator_ran=old.agitator_ran,
        bulb_covered=old.bulb_covered,
    )
    amend_reading(stage.by, old.number, data, one.reason, day_closed=False)


def corrected(stage: Stage, one: acts.Corrected) -> None:
    """One line, one signature."""
    old = last_reading(one.key, one.place)
    monitoring = stage.in_force.plan.monitoring_by_key(one.key)
    assert monitoring is not None, one.key
    deviations.record_correction(
        stage.by,
        stage.in_force,
        subject_kind=Reading.KIND,
        subject_number=old.number,
        control_point=monitoring.control_point,
        subject=one.place,
        text=one.text,
        form_id=form_id("correction", stage.plant_day, one),
    )


def _deviation(control_point: str, place: str) -> Deviation:
    rows = deviation_queries.open_deviations().filter(control_point=control_point, subject=place)
    return rows.order_by("-number")[:1].get()


def answered(stage: Stage, one: acts.Answered) -> None:
    """The parts of a corrective action."""
    found = _deviation(one.control_point, one.place)
    for part, text in one.parts.items():
        deviations.write_part(stage.crew.actor(one.by), found, part, text, form_id("part", found.number, part))
        stage.hand.on(SECONDS_EACH)


def disposed(stage: Stage, one: acts.Disposed) -> None:
    """A disposition for each lot that the deviation holds, and its second signature."""
    found = _deviation(one.control_point, one.place)
    for hold in deviation_queries.open_holds().filter(deviation=found.number):
        what = holds.propose_disposition(stage.crew.actor(one.by), hold, one.what, one.reason)
        stage.hand.on(SECONDS_EACH)
        holds.sign_disposition(stage.crew.actor(one.second), what)


def closed_deviation(stage: Stage, one: acts.ClosedDeviation) -> None:
    """Closed, complete."""
    deviations.close(stage.crew.actor(one.by), _deviation(one.control_point, one.place), one.text)


def power_out(stage: Stage, one: acts.PowerOut) -> None:
    """An outage with its end."""
    covers = [{"check": what, "where": where} for what, where in one.covers]
    outage, _found = deviations.open_outage(
        stage.by, stage.in_force, one.what, stage.moment(one.since), covers, one.text
    )
    deviations.end_outage(stage.by, outage, stage.moment(one.until), [])


def recorded(stage: Stage, one: acts.Recorded) -> None:
    """A file as the recorder wrote it, kept and judged as the page does it."""
    by, until = stage.crew.actor(one.by), clock.now().replace(second=0, microsecond=0)
    if one.of == "press":
        since, name, mapping = stage.moment(one.since), "Press 1 recorder", recorders.press_mapping()
        data = recorders.press_file(since, until, [_fell(stage, each) for each in one.fell], stage.in_force)
    elif one.of == "cip":
        since, name, mapping = _cip_since(stage), "CIP logger", recorders.cip_mapping()
        data = recorders.cip_file(since, until, stage.in_force)
    else:
        since, name, mapping = _tanks_since(stage), "Tank logger", recorders.tank_mapping()
        data = recorders.tank_file(since, until, stage.in_force)
    upload = incoming.receive(by, f"{one.of}-{stage.plant_day:%y%m%d}.csv", [data])
    row, _again = importing.import_file(by, upload, mapping, name, form_id("trace", stage.plant_day, one))
    incoming.forget(upload)
    kept_files.judge(row)


def looked(stage: Stage, one: acts.Challenged | acts.Strained | acts.Counted) -> None:
    """A look against foreign matter."""
    looking.looked(stage.by, stage.plant_day, one)


def _fell(stage: Stage, one: acts.Fell) -> recorders.Event:
    at = stage.moment(one.at[:5]) + timedelta(seconds=int(one.at[6:]))
    return recorders.Event(at, one.seconds, Decimal(one.value), one.diverted)


def _cip_since(stage: Stage) -> datetime:
    """Where the last file ended; the first begins with the washes of the evening before."""
    last = TraceFile.objects.filter(source="CIP logger").order_by("-number").first()
    return last.last_at + timedelta(seconds=10) if last is not None else stage.moment("16:50", -1)


def _tanks_since(stage: Stage) -> datetime:
    """Where the last file ended, and ten minutes more that it had already; the first begins with the day."""
    last = TraceFile.objects.filter(source="Tank logger").order_by("-number").first()
    return last.last_at - timedelta(minutes=10) if last is not None else stage.moment("05:10")


PERFORM: dict[type[Any], Callable[[Stage, Any], None]] = {
    acts.Washed: washing.washed,
    acts.Ready: ready,
    acts.Look: look,
    acts.Happened: happened,
    acts.Stock: stock,
    acts.Again: again,
    acts.Noted: noted,
    acts.Amended: amended,
    acts.Corrected: corrected,
    acts.Answered: answered,
    acts.Disposed: disposed,
    acts.ClosedDeviation: closed_deviation,
    acts.PowerOut: power_out,
    acts.Recorded: recorded,
    acts.Diverted: ran.diverted,
    acts.ChartOn: charted.chart_on,
    acts.ChartOff: charted.chart_off,
    acts.Froze: froze.say,
    acts.Reworked: froze.reworked,
    acts.Sent: recalled.sent,
    acts.CameBack: recalled.came_back,
    acts.Settled: recalled.settled,
    acts.Rehearsed: recalled.rehearsed,
    acts.Challenged: looked,
    acts.Strained: looked,
    acts.Counted: looked,
    acts.Cleared: filled.cleared,
    acts.Roll: filled.roll,
    acts.RollCounted: filled.counted,
    acts.Sampled: sampled.sampled,
    acts.Found: sampled.found,
    acts.Approved: blended.approved,
    acts.Supplied: blended.supplied,
    acts.Computed: blended.computed,
    acts.WeighedIn: blended.weighed_in,
    acts.Enriched: blended.enriched,
    acts.Flavored: blended.flavored,
    acts.LookedAt: blended.looked_at,
    acts.Trained: trained.trained,
}
# After these, what is due may be another list than before.
CHANGES_WHAT_IS_DUE = (
    acts.Move, acts.Happened, acts.Stock, acts.Again, acts.Amended, acts.PowerOut, acts.ChartOn, acts.ChartOff,
    acts.Froze, acts.Reworked, acts.Challenged, acts.Strained, acts.Counted, acts.WeighedIn, acts.Flavored,
)  # fmt: skip
