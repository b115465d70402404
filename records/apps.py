"""The records: what happened, who saw it, who signed it."""

from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate


class RecordsConfig(AppConfig):
    """Records are inserted by actions and never changed; database triggers see to it."""

    name = "records"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from plant.hazard_plan import approvals
        from records.batches import second
        from records.checks import announced, elsewhere
        from records.flow import further
        from records.foreign_matter import plan_checks as looks
        from records.labels import findings as filling
        from records.labels import uneven
        from records.laboratory import of_lots  # noqa: F401  registers what it knows of the lots in a tub
        from records.ledger import foreign, triggers
        from records.live import staging  # noqa: F401  registers what is not a block yet
        from records.people import approval_lookup
        from records.receiving import consequences as receiving
        from records.rework import findings as rework
        from records.rework import pages as rework_pages
        from records.runs import queries as runs
        from records.traces import over, washed  # noqa: F401  registers what lies over a strip chart; traces of washes
        from records.vat_runs import leaving as vats
        from records.washes import state as washes

        approvals.register(approval_lookup.approved, approval_lookup.frozen_text)

        announced.register(runs.product_expected)
        elsewhere.register(looks.form_for)
        further.register(filling.about)
        further.register(washes.about)
        further.register(second.about)
        further.register_washes(washes.unproven_among)
        further.register(vats.about)
        further.register(rework.about)
        further.register_floor(rework_pages.floor_lines)
        further.register_outside(receiving.OUTSIDE)
        further.register_then(uneven.after_packing)

        # A table rebuilt by a later migration on SQLite loses its triggers without a word.
        post_migrate.connect(triggers.install_after_migrate, sender=self)
        checks.register(checks.Tags.database)(triggers.standing_check)
        checks.register(checks.Tags.database)(foreign.foreign_check)
