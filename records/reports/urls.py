"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.reports import views

urlpatterns: list[URLPattern] = [
    path("day-chart/", views.day_chart, name="day-chart"),
    path("day-chart/<str:day>/", views.day_chart, name="day-chart"),
    path("days/<str:day>/readings.csv", views.day_csv, name="day-csv"),
    path("blank-forms/", views.blank_forms, name="blank-forms"),
    path("blank-forms/print.pdf", views.blank_forms_pdf, name="blank-forms-pdf"),
]
