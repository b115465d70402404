"""The one table of who may do what: each route's name and the roles that may use it.

A route that is not named here is refused to everybody (tests walk every route, role and the anonymous).
"""

from __future__ import annotations

from plant.people.models import Role

OPERATOR, SUPERVISOR, QUALIFIED = Role.OPERATOR.value, Role.SUPERVISOR.value, Role.QUALIFIED.value
OWNER, MAINTENANCE = Role.OWNER.value, Role.MAINTENANCE.value
INSPECTOR, ADMINISTRATOR = Role.INSPECTOR.value, Role.ADMINISTRATOR.value

# Whoever holds several roles acts in the first of these that the route allows.
ORDER = (SUPERVISOR, QUALIFIED, OWNER, OPERATOR, MAINTENANCE, ADMINISTRATOR, INSPECTOR)

PUBLIC: frozenset[str] = frozenset({"*"})
EVERYONE = frozenset(Role.values)
READERS = EVERYONE - {ADMINISTRATOR}
FLOOR = frozenset({OPERATOR, SUPERVISOR, QUALIFIED, OWNER, MAINTENANCE})
MAKERS = frozenset({OPERATOR, SUPERVISOR, QUALIFIED, OWNER})  # who log product, washes and readings
# An inspector reads; these are all that the role may post.
INSPECTOR_POSTS = frozenset({"records:lock"})
REVIEWERS = frozenset({SUPERVISOR, QUALIFIED})
WORKERS = frozenset({MAINTENANCE, SUPERVISOR, QUALIFIED})  # who log work, tests and calibrations
PLANNERS = frozenset({QUALIFIED, OWNER})

RIGHTS: dict[str, frozenset[str]] = {
    # records/people
    "records:home": EVERYONE,
    "records:sign-in": PUBLIC,
    "records:sign-out": PUBLIC,
    "records:lock": EVERYONE,
    "records:new-secret": PUBLIC,  # the link is the right
    "records:tablet-open": PUBLIC,  # the link is the right
    "records:people": frozenset({ADMINISTRATOR, SUPERVISOR, OWNER}),
    "records:person-add": frozenset({ADMINISTRATOR}),
    "records:person": frozenset({ADMINISTRATOR, SUPERVISOR, OWNER}),
    "records:person-role-grant": frozenset({ADMINISTRATOR}),
    "records:person-role-end": frozenset({ADMINISTRATOR}),
    "records:person-reset": frozenset({ADMINISTRATOR, SUPERVISOR}),
    "records:person-confirm": frozenset({SUPERVISOR, OWNER}),
    "records:person-unlock": frozenset({SUPERVISOR, OWNER}),
    "records:person-unlock-away": frozenset({SUPERVISOR, OWNER}),
    "records:person-renew": frozenset({ADMINISTRATOR}),
    "records:person-leave": frozenset({ADMINISTRATOR}),
    "records:tablets": frozenset({ADMINISTRATOR}),
    "records:tablet-enrol": frozenset({ADMINISTRATOR}),
    "records:tablet-withdraw": frozenset({ADMINISTRATOR}),
    "records:plan-approve": PLANNERS,
    "records:plant-revise": PLANNERS,
    # records/flow
    "records:floor": EVERYONE,
    "records:vessel": EVERYONE,
    "records:movement": READERS,
    "records:movement-new": MAKERS,
    "records:movement-end": MAKERS,
    "records:movement-amend": MAKERS,
    "records:washed": MAKERS,
    "records:sanitized": MAKERS,
    "records:wash-begins": MAKERS,
    "records:wash-not-done": MAKERS,
    "records:level": MAKERS,
    "records:service": FLOOR,
    "records:event": MAKERS,
    "records:no-production": MAKERS,
    # records/lots
    "records:lots": READERS,
    "records:lot": READERS,
    # records/recall
    "records:recalls": READERS,
    "records:recall-scope": READERS,
    "records:recall-scope-pdf": READERS,
    "records:recall-scope-csv": READERS,
    "records:recall": READERS,
    "records:recall-new": REVIEWERS | {OWNER},
    "records:recall-step": MAKERS,
    "records:recall-step-amend": MAKERS,  # one's own; the act says whose
    "records:recall-end": REVIEWERS | {OWNER},
    "records:dispatches": READERS,
    "records:dispatch": READERS,
    "records:dispatch-new": MAKERS,
    "records:dispatch-amend": MAKERS,  # one's own; the act says whose
    "records:return": READERS,
    "records:return-new": MAKERS,
    "records:return-amend": MAKERS,  # one's own; the act says whose
    "records:tub-find": READERS,
    "records:tub": READERS,
    # plant/hazard_plan
    "plant:plan": READERS,
    "plant:plan-version": READERS,
    "plant:rules": READERS,
    "plant:calculators": READERS,
    "plant:calculator": READERS,
    "plant:plan-new-draft": PLANNERS,
    "plant:plan-header": PLANNERS,
    "plant:plan-row": PLANNERS,
    "plant:plan-row-add": PLANNERS,
    "plant:plan-row-remove": PLANNERS,
    "plant:plan-confirm": frozenset({QUALIFIED}),
    # plant/equipment, plant/products
    "plant:equipment": READERS | {ADMINISTRATOR},
    "plant:thing": PLANNERS,
    "plant:thing-add": PLANNERS,
    "plant:labels": FLOOR | {ADMINISTRATOR},
    "plant:qr": FLOOR | {ADMINISTRATOR},
    "plant:products": READERS,
    "plant:product": PLANNERS,
    "plant:product-add": PLANNERS,
    # records/reports and the pages of the day sheet in records/review
    "records:day-chart": READERS,
    "records:day-csv": READERS,
    "records:blank-forms": READERS,
    "records:blank-forms-pdf": READERS,
    "records:day-so-far": READERS,
    "records:day-so-far-pdf": READERS,
    "records:day-sheet": READERS,
    "records:day-json": READERS,
    "records:sheet-pdf": READERS,
    # records/checks
    "records:round": MAKERS,
    "records:round-check": MAKERS,
    "records:reading-answer": MAKERS,
    "records:round-sign": MAKERS,
    "records:at": FLOOR,
    "records:free-reading": FLOOR,
    "records:free-kept": FLOOR,
    "records:reading-note": FLOOR,
    "records:readings": READERS,
    "records:reading": READERS,
    "records:reading-photo": READERS,
    "records:due": READERS,
    "records:reading-amend": MAKERS,
    # records/labels
    "records:filling": READERS,
    "records:packaging-photo": READERS,
    "records:filling-entry": READERS,
    "records:label-sheet": READERS,
    "records:label-pdf": READERS,
    "records:lot-packet": READERS,
    "records:line-clear": MAKERS,
    "records:line-check": MAKERS,
    "records:packaging-open": MAKERS,
    "records:packaging-count": MAKERS,
    "records:filling-amend": MAKERS,  # as the next
    "records:filling-void": MAKERS,  # one's own; the act says whose
    # records/ingredients
    "records:ingredients": READERS,
    "records:ingredient-entry": READERS,
    "records:ingredient-certificate": READERS,
    "records:ingredient-received": MAKERS,
    "records:ingredient-stock": MAKERS,
    "records:ingredient-amend": MAKERS,  # one's own; the act says whose
    "records:supplier-approve": REVIEWERS,
    "records:supplier-amend": REVIEWERS,
    # records/batches
    "records:batches": READERS,
    "records:batch": READERS,
    "records:batch-entry": READERS,
    "records:batch-new": MAKERS,
    "records:batch-add": MAKERS,
    "records:batch-confirm": MAKERS,
    "records:blend-test": MAKERS,
    "records:separation": MAKERS,
    "records:vitamin": MAKERS,
    "records:flavor": MAKERS,
    "records:batch-amend": MAKERS,  # one's own; the act says whose
    # records/workshop
    "records:workshop": READERS,
    "records:workshop-place": READERS,
    "records:workshop-entry": READERS,
    "records:workshop-report": READERS,
    "records:workshop-work": WORKERS,
    "records:workshop-test": WORKERS,
    "records:workshop-holding": WORKERS,
    "records:workshop-calibration": WORKERS,
    "records:workshop-amend": FLOOR,  # one's own; the act says whose
    "records:workshop-void": FLOOR,
    "records:workshop-seal": FLOOR,  # whoever sees a broken seal writes it down
    "records:workshop-notice": FLOOR,
    "records:workshop-revise": PLANNERS,
    # records/runs
    "records:runs": READERS,
    "records:run": READERS,
    "records:run-record": READERS,
    "records:ready": READERS,
    "records:run-new": MAKERS,
    "records:run-product": MAKERS,
    "records:run-out": MAKERS,
    "records:run-event": MAKERS,
    "records:run-amend": MAKERS,  # one's own; the act says whose
    # records/freezer_runs
    "records:freezer-runs": READERS,
    "records:freezer-run": READERS,
    "records:freezer-run-new": MAKERS,
    "records:freezer-run-draw": MAKERS,
    "records:freezer-run-drawn": MAKERS,
    "records:freezer-run-event": MAKERS,
    "records:freezer-run-amend": MAKERS,  # one's own; the act says whose
    # records/rework
    "records:rework": READERS,
    "records:rework-portion": READERS,
    "records:rework-use": MAKERS,
    "records:rework-away": MAKERS,
    # records/receiving
    "records:receiving": READERS,
    "records:receiving-month": READERS,
    "records:load": READERS,
    "records:load-new": MAKERS,
    "records:load-screen": MAKERS,
    "records:load-unload": MAKERS,
    "records:load-unloaded": MAKERS,
    "records:load-say": MAKERS,
    "records:load-tag": READERS,
    "records:load-tag-new": MAKERS,
    "records:load-of-movement": MAKERS,
    "records:load-unlink": MAKERS,  # one's own, or a supervisor; the act says whose
    "records:load-amend": MAKERS,  # one's own; the act says whose
    # records/washes
    "records:washes": READERS,
    "records:wash": READERS,
    "records:wash-new": MAKERS,
    "records:wash-amend": MAKERS,  # as a step's
    "records:wash-step-amend": MAKERS,  # one's own; the act says whose
    # records/vat_runs
    "records:vat-runs": READERS,
    "records:vat-run": READERS,
    "records:vat-run-new": MAKERS,
    "records:vat-run-opened": MAKERS,
    "records:vat-run-shut": MAKERS,
    "records:vat-run-event": MAKERS,
    "records:vat-run-amend": MAKERS,  # one's own; the act says whose
    # records/foreign_matter
    "records:foreign-matter": READERS,
    "records:foreign-matter-entry": READERS,
    "records:foreign-matter-photo": READERS,
    "records:foreign-matter-new": FLOOR,  # whoever finds or breaks something writes it down
    "records:foreign-matter-amend": FLOOR,  # one's own; the act says whose
    # records/laboratory
    "records:samples": READERS,
    "records:sample": READERS,
    "records:samples-trend": READERS,
    "records:samples-sites": READERS,
    "records:samples-retained": READERS,
    "records:sample-new": MAKERS,
    "records:sample-amend": MAKERS,  # one's own; the act says whose
    "records:sample-result": MAKERS,
    "records:sample-result-amend": MAKERS,
    "records:samples-table": MAKERS,
    # records/training: the rule gives its compliance to supervisory people (21 CFR 117.4(c), from memory)
    "records:training": READERS,
    "records:training-person": READERS,
    "records:training-entry": READERS,
    "records:training-certificate": READERS,
    "records:training-new": REVIEWERS,
    "records:training-amend": REVIEWERS,  # never one's own once the day is closed; the act says whose
    # records/traces
    "records:traces": READERS,
    "records:trace-import": MAKERS | {MAINTENANCE},
    "records:trace-look": MAKERS | {MAINTENANCE},
    "records:trace-file": READERS,
    "records:trace-finding": READERS,
    "records:trace": READERS,
    "records:trace-window": READERS,
    # records/live
    "records:intake": PUBLIC,  # a gateway's token is the right
    "records:live": EVERYONE,
    "records:live-feed": frozenset({MAINTENANCE, ADMINISTRATOR}),
    "records:live-feed-off": frozenset({MAINTENANCE, ADMINISTRATOR}),
    "records:live-gateway": frozenset({ADMINISTRATOR}),
    "records:live-gateway-revoke": frozenset({ADMINISTRATOR}),
    # records/charts
    "records:charts": READERS,
    "records:chart": READERS,
    "records:chart-photo": READERS,
    "records:chart-over": READERS,
    "records:chart-new": MAKERS,
    "records:chart-off": MAKERS,
    "records:chart-change": MAKERS,
    "records:chart-photo-new": MAKERS,
    "records:chart-sign": MAKERS,
    "records:chart-amend-on": MAKERS,  # one's own; the act says whose
    "records:chart-amend-off": MAKERS,
    "records:chart-fit": FLOOR,
    "records:chart-compare": FLOOR,
    "records:chart-initials": FLOOR,
    # deviations, held product, outages, review of days (records/review)
    "records:deviations": READERS,
    "records:deviation": READERS,
    "records:deviation-part": FLOOR,
    "records:deviation-close": REVIEWERS,
    "records:corrections": READERS,
    "records:correction-raise": REVIEWERS,
    "records:holds": READERS,
    "records:hold": READERS,
    "records:hold-new": MAKERS,
    "records:disposition-new": REVIEWERS | {OWNER},
    "records:disposition-sign": REVIEWERS | {OWNER},
    "records:letter": READERS,
    "records:outages": READERS,
    "records:outage": READERS,
    "records:outage-new": FLOOR,
    "records:days": READERS,
    "records:day": READERS,
    "records:day-close": MAKERS,
    "records:day-sign": MAKERS,
    "records:in-charge": MAKERS,
    "records:hand-over": MAKERS,
    "records:hand-over-sign": MAKERS,
}
