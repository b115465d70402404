"""Routes of this feature, in the namespace records. An address with an instrument comes after those with a word."""

from django.urls import URLPattern, path

from records.traces import chart_views, finding_views, import_views

urlpatterns: list[URLPattern] = [
    path("traces/", chart_views.traces, name="traces"),
    path("traces/import/", import_views.trace_import, name="trace-import"),
    path("traces/import/<uuid:upload>/", import_views.trace_look, name="trace-look"),
    path("traces/files/<int:number>/", import_views.trace_file, name="trace-file"),
    path("traces/findings/<int:number>/", finding_views.trace_finding, name="trace-finding"),
    path("traces/<slug:instrument>/", chart_views.trace, name="trace"),
    path("traces/<slug:instrument>/window.json", chart_views.trace_window, name="trace-window"),
]
