"""Each role's few pages, and the first of them: one table. A page whose feature is not there is left out."""

from __future__ import annotations

from functools import cache

from django.urls import NoReverseMatch, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from records.people import rights
from records.people.rights import (
    ADMINISTRATOR,
    INSPECTOR,
    MAINTENANCE,
    OPERATOR,
    ORDER,
    OWNER,
    QUALIFIED,
    RIGHTS,
    SUPERVISOR,
)

Page = tuple[str | Promise, str]

ROUND: Page = (_("Round"), "records:round")
DUE: Page = (_("What is due"), "records:due")
FLOOR: Page = (_("Floor"), "records:floor")
HANDOVER: Page = (_("Handover"), "records:hand-over")
DAY_CHART: Page = (_("Day chart"), "records:day-chart")
RECEIVING: Page = (_("Receiving"), "records:receiving")
READY: Page = (_("Ready"), "records:ready")
RUNS: Page = (_("Runs"), "records:runs")
TRACES: Page = (_("Traces"), "records:traces")
LIVE: Page = (_("Live recorders"), "records:live")
CHARTS: Page = (_("Charts"), "records:charts")
LOTS: Page = (_("Lots"), "records:lots")
FILLING: Page = (_("Filling"), "records:filling")
REWORK: Page = (_("Rework"), "records:rework")
SAMPLES: Page = (_("Samples"), "records:samples")
WASHES: Page = (_("Washes"), "records:washes")
DISPATCH: Page = (_("Dispatch"), "records:dispatches")
RECALL: Page = (_("Recall"), "records:recalls")
FOREIGN: Page = (_("Foreign matter"), "records:foreign-matter")
INGREDIENTS: Page = (_("Ingredients"), "records:ingredients")
BATCHES: Page = (_("Batches"), "records:batches")
TRAINING: Page = (_("Training"), "records:training")
DEVIATIONS: Page = (_("Deviations"), "records:deviations")
DAYS: Page = (_("Day sheets"), "records:days")
WORKSHOP: Page = (_("Workshop"), "records:workshop")
PLAN: Page = (_("Plan"), "plant:plan")
VESSELS: Page = (_("Vessels and instruments"), "plant:equipment")
PRODUCTS: Page = (_("Products"), "plant:products")
CALCULATORS: Page = (_("Calculators"), "plant:calculators")
PEOPLE: Page = (_("People"), "records:people")
TABLETS: Page = (_("Tablets"), "records:tablets")

# The first page of each list is where the role begins.
PAGES: dict[str, tuple[Page, ...]] = {
    OPERATOR: (
        ROUND, FLOOR, READY, RECEIVING, BATCHES, RUNS, FILLING, REWORK, HANDOVER,
        WASHES, SAMPLES, INGREDIENTS, CHARTS, DAY_CHART, LOTS, DISPATCH, FOREIGN, WORKSHOP,
    ),
    SUPERVISOR: (
        DEVIATIONS, DAYS, FLOOR, READY, DAY_CHART, RUNS, TRACES, LOTS,
        RECEIVING, SAMPLES, INGREDIENTS, BATCHES, FILLING, REWORK, DISPATCH, RECALL, CHARTS, ROUND, DUE,
        WASHES, FOREIGN, WORKSHOP, TRAINING, PLAN, PEOPLE,
    ),
    QUALIFIED: (
        PLAN, DEVIATIONS, DAYS, FLOOR, DAY_CHART, RUNS, TRACES, LOTS,
        SAMPLES, RECALL, CHARTS, BATCHES, INGREDIENTS, FILLING, REWORK, WASHES, FOREIGN, WORKSHOP,
        TRAINING, VESSELS, PRODUCTS, CALCULATORS,
    ),
    OWNER: (
        FLOOR, DAYS, DEVIATIONS, PLAN, DAY_CHART, LOTS,
        RECALL, TRAINING, PEOPLE,
    ),
    MAINTENANCE: (
        WORKSHOP, FLOOR, DEVIATIONS, DAY_CHART, TRACES, LIVE,
        CHARTS, FOREIGN, VESSELS, CALCULATORS,
    ),
    INSPECTOR: (
        DAYS, DEVIATIONS, LOTS, RECALL, FLOOR, DAY_CHART, RUNS, TRACES,
        RECEIVING, SAMPLES, INGREDIENTS, BATCHES, FILLING, REWORK, WASHES, CHARTS, FOREIGN, WORKSHOP, TRAINING, PLAN,
    ),
    ADMINISTRATOR: (PEOPLE, TABLETS, LIVE),
}  # fmt: skip


def pages(roles: frozenset[str], path: str) -> list[tuple[str, str, bool]]:
    """The pages of these roles that are open to them: label, address, whether `path` is on it. Each once."""
    found: dict[str, tuple[str, str]] = {}
    for role in ORDER:
        if role not in roles:
            continue
        for label, route in PAGES[role]:
            address = _address(route)
            if address and _open(route, roles):
                found.setdefault(address, (str(label), address))
    # The longest address that begins the path, so that /people/tablets/ is not also /people/.
    here = max((one for one in found if path.startswith(one)), key=len, default="")
    return [(label, address, address == here) for label, address in found.values()]


def first_page(roles: frozenset[str]) -> str | None:
    """Where these roles begin; None when no page is open to them."""
    mine = pages(roles, "")
    return mine[0][1] if mine else None


def _open(route: str, roles: frozenset[str]) -> bool:
    allowed = RIGHTS.get(route, frozenset())
    return allowed == rights.PUBLIC or bool(allowed & roles)


@cache
def _address(route: str) -> str | None:
    """The address of a route; None while no such page exists (the table may name it before it is built)."""
    try:
        return reverse(route)
    except NoReverseMatch:
        return None
