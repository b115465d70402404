"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.receiving import views

urlpatterns: list[URLPattern] = [
    path("receiving/", views.receiving, name="receiving"),
    path("receiving/new/", views.new, name="load-new"),
    path("receiving/month/", views.month, name="receiving-month"),
    path("receiving/movements/<int:movement>/", views.without_load, name="load-of-movement"),
    path("receiving/<int:load>/", views.load_page, name="load"),
    path("receiving/<int:load>/screen/", views.screen, name="load-screen"),
    path("receiving/<int:load>/tag/", views.tag_new, name="load-tag-new"),
    path("receiving/<int:load>/tag/<int:photo>/", views.tag, name="load-tag"),
    path("receiving/<int:load>/unload/", views.unload, name="load-unload"),
    path("receiving/<int:load>/unloaded/", views.unloaded, name="load-unloaded"),
    path("receiving/<int:load>/say/<slug:what>/", views.say, name="load-say"),
    path("receiving/events/<int:number>/not-of-this-load/", views.unlink, name="load-unlink"),
    path("receiving/events/<int:number>/amend/", views.amend, name="load-amend"),
]
