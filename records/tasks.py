"""The scheduled work, a few lines each. Every task rebuilds what it needs from the database and may run twice."""

from __future__ import annotations

from typing import Any

from celery import shared_task
from celery.schedules import schedule

from plant.celery import app
from records.checks import escalation, watch
from records.people import outbox


@shared_task(name="daybook.look_at_checks")
def look_at_checks() -> dict[str, int]:
    """Late and missed checks, outages, and whom the plan wants told."""
    return dict(watch.look() + escalation.escalate())


@shared_task(name="daybook.judge_traces")
def judge_traces() -> int:
    """Traces that new records bear on: judged, or judged again."""
    from records.traces import watch as traces

    return traces.look()


@shared_task(name="daybook.look_at_live")
def look_at_live() -> dict[str, int]:
    """What came live: judged, sealed once its hour is over; recorders that fell silent."""
    from records.live import sealing, silence

    return {**sealing.look(), "silent": silence.look()}


@shared_task(name="daybook.look_at_charts")
def look_at_charts() -> dict[str, int]:
    """Charts that are still on after the time they are made for."""
    from records.charts import watch as charts

    return dict(charts.look())


@shared_task(name="daybook.look_at_recalls")
def look_at_recalls() -> dict[str, int]:
    """Product that has left and is held since; recalls whose scope grew by what was recorded late or amended."""
    from records.recall import watch as recalls

    return dict(recalls.look())


@shared_task(name="daybook.look_at_loads")
def look_at_loads() -> int:
    """Farms' milk that stands warm only because it is processed soon, and was not."""
    from records.receiving import watch as loads

    return loads.look()


@shared_task(name="daybook.look_at_samples")
def look_at_samples() -> int:
    """Retained samples whose keeping has ended: told of once."""
    from records.laboratory import retained

    return retained.look()


@shared_task(name="daybook.look_at_rework")
def look_at_rework() -> int:
    """Rework past its hours, neither used nor thrown away: told of once."""
    from records.rework import watch as rework

    return rework.look()


@shared_task(name="daybook.look_at_trainings")
def look_at_trainings() -> int:
    """Trainings that became overdue: told of once."""
    from records.training import watch as trainings

    return trainings.look()


@shared_task(name="daybook.send_notices")
def send_notices() -> int:
    """Mail what waits in the outbox."""
    return outbox.send_waiting()


@shared_task(name="daybook.draft_day_sheets")
def draft_day_sheets() -> list[str]:
    """After a plant day's end: its draft sheet; and the sheet of a closing whose rendering was cut off."""
    from records.review.actions import draft_ended_days, render_what_was_cut_off

    return draft_ended_days() + render_what_was_cut_off()


# Seconds between two runs. The embedded loop and Celery's beat read this one table.
EVERY: dict[str, tuple[Any, float]] = {
    "look-at-checks": (look_at_checks, 60.0),
    "judge-traces": (judge_traces, 60.0),
    "look-at-live": (look_at_live, 60.0),
    "look-at-charts": (look_at_charts, 60.0),
    "look-at-recalls": (look_at_recalls, 60.0),
    "look-at-loads": (look_at_loads, 60.0),
    "look-at-samples": (look_at_samples, 300.0),
    "look-at-rework": (look_at_rework, 300.0),
    "look-at-trainings": (look_at_trainings, 300.0),
    "send-notices": (send_notices, 30.0),
    "draft-day-sheets": (draft_day_sheets, 300.0),
}

app.conf.beat_schedule = {
    name: {"task": task.name, "schedule": schedule(run_every=seconds)} for name, (task, seconds) in EVERY.items()
}
