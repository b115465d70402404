"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.live import intake, views

urlpatterns: list[URLPattern] = [
    path("intake/", intake.intake, name="intake"),
    path("live/", views.live, name="live"),
    path("live/feeds/new/", views.feed, name="live-feed"),
    path("live/feeds/<uuid:feed>/off/", views.feed_off, name="live-feed-off"),
    path("live/gateways/new/", views.gateway, name="live-gateway"),
    path("live/gateways/<uuid:gateway>/revoke/", views.revoke, name="live-gateway-revoke"),
]
