"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.washes import views

urlpatterns: list[URLPattern] = [
    path("washes/", views.washes, name="washes"),
    path("washes/new/<slug:code>/<slug:program>/", views.new, name="wash-new"),
    path("washes/<int:number>/", views.wash_page, name="wash"),
    path("washes/<int:number>/amend/", views.wash_amend, name="wash-amend"),
    path("washes/steps/<int:number>/amend/", views.amend, name="wash-step-amend"),
]
