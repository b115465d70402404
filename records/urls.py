"""Each feature's routes, in one namespace."""

from django.urls import include, path

app_name = "records"

urlpatterns = [
    path("", include("records.people.urls")),
    path("", include("records.checks.urls")),
    path("", include("records.foreign_matter.urls")),
    path("", include("records.labels.urls")),
    path("", include("records.ingredients.urls")),
    path("", include("records.batches.urls")),
    path("", include("records.workshop.urls")),
    path("", include("records.traces.urls")),
    path("", include("records.charts.urls")),
    path("", include("records.live.urls")),
    path("", include("records.runs.urls")),
    path("", include("records.freezer_runs.urls")),
    path("", include("records.rework.urls")),
    path("", include("records.vat_runs.urls")),
    path("", include("records.receiving.urls")),
    path("", include("records.laboratory.urls")),
    path("", include("records.training.urls")),
    path("", include("records.washes.urls")),
    path("", include("records.flow.urls")),
    path("", include("records.lots.urls")),
    path("", include("records.recall.urls")),
    path("", include("records.deviations.urls")),
    path("", include("records.reports.urls")),
    path("", include("records.review.urls")),
    path("", include("records.review.urls_sheet")),
    path("", include("records.review.urls_pages")),
]
