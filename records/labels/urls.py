"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.labels import views

urlpatterns: list[URLPattern] = [
    path("filling/", views.filling, name="filling"),
    path("filling/<slug:code>/clearance/", views.clear, name="line-clear"),
    path("filling/<slug:code>/opened/", views.opened, name="packaging-open"),
    path("filling/clearances/<int:clearance>/check/", views.check, name="line-check"),
    path("filling/packaging/<int:opened>/count/", views.counted, name="packaging-count"),
    path("filling/packaging/<int:opened>/photo/", views.photo, name="packaging-photo"),
    path("filling/entries/<int:number>/", views.entry, name="filling-entry"),
    path("filling/entries/<int:number>/amend/", views.amend, name="filling-amend"),
    path("filling/entries/<int:number>/did-not-happen/", views.void, name="filling-void"),
    path("lots/<uuid:lot_id>/label/", views.label_sheet, name="label-sheet"),
    path("lots/<uuid:lot_id>/label.pdf", views.label_pdf, name="label-pdf"),
]
