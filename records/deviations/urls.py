"""Routes of deviations and holds stand in records.review: their pages join features that come later than this one."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
