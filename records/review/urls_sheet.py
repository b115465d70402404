"""Routes of the day sheet's pages, in the namespace records."""

from django.urls import URLPattern, path

from records.review import packet_views
from records.review import views_sheet as views

urlpatterns: list[URLPattern] = [
    path("today/", views.day_so_far, name="day-so-far"),
    path("today/sheet.pdf", views.day_so_far_pdf, name="day-so-far-pdf"),
    path("days/<str:day>/sheet/", views.day_sheet, name="day-sheet"),
    path("days/<str:day>/day.json", views.day_json, name="day-json"),
    path("lots/<uuid:lot_id>/packet.pdf", packet_views.lot_packet, name="lot-packet"),
    path("day-sheets/<int:number>.pdf", views.sheet_pdf, name="sheet-pdf"),
]
