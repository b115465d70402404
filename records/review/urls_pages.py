"""Routes of deviations, held product, outages and the review of days, in the namespace records."""

from django.urls import URLPattern, path

from records.review import day_views, deviation_views, hold_views, outage_views, ready_views, run_views

urlpatterns: list[URLPattern] = [
    # deviations and corrections
    path("deviations/", deviation_views.deviations, name="deviations"),
    path("deviations/<int:number>/", deviation_views.deviation, name="deviation"),
    path("deviations/<int:number>/parts/<slug:part>/", deviation_views.part, name="deviation-part"),
    path("deviations/<int:number>/close/", deviation_views.close, name="deviation-close"),
    path("corrections/", deviation_views.corrections, name="corrections"),
    path("corrections/<int:number>/raise/", deviation_views.raise_correction, name="correction-raise"),
    # held product
    path("holds/", hold_views.holds, name="holds"),
    path("holds/new/", hold_views.hold_new, name="hold-new"),
    path("holds/<int:number>/", hold_views.hold, name="hold"),
    path("holds/<int:number>/disposition/", hold_views.propose, name="disposition-new"),
    path("holds/<int:number>/second/", hold_views.second, name="disposition-sign"),
    path("letters/<int:number>/", hold_views.letter, name="letter"),
    # outages
    path("outages/", outage_views.outages, name="outages"),
    path("outages/new/", outage_views.outage_new, name="outage-new"),
    path("outages/<int:number>/", outage_views.outage, name="outage"),
    # what stands between now and the first milk
    path("ready/", ready_views.ready, name="ready"),
    # a run's record, joined
    path("runs/<int:run>/record/", run_views.run_record, name="run-record"),
    # days
    path("days/", day_views.days, name="days"),
    path("days/<str:day>/", day_views.day, name="day"),
    path("days/<str:day>/close/", day_views.close, name="day-close"),
    path("days/<str:day>/sign/<slug:place>/", day_views.sign, name="day-sign"),
    path("days/<str:day>/shifts/<slug:shift>/in-charge/", day_views.in_charge, name="in-charge"),
    path("days/<str:day>/shifts/<slug:shift>/<slug:side>/", day_views.hand_over, name="hand-over-sign"),
    path("hand-over/", day_views.present, name="hand-over"),
]
