"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.charts import change_views, over_views, views

urlpatterns: list[URLPattern] = [
    path("charts/", views.charts, name="charts"),
    path("charts/new/", change_views.new, name="chart-new"),
    path("charts/initials/", change_views.initials, name="chart-initials"),
    path("charts/<int:chart>/", views.chart, name="chart"),
    path("charts/<int:chart>/off/", change_views.off, name="chart-off"),
    path("charts/<int:chart>/change/", change_views.change, name="chart-change"),
    path("charts/<int:chart>/sign/", change_views.sign, name="chart-sign"),
    path("charts/<int:chart>/amend-on/", change_views.amend_on, name="chart-amend-on"),
    path("charts/<int:chart>/amend-off/", change_views.amend_off, name="chart-amend-off"),
    path("charts/<int:chart>/photos/new/", change_views.photo, name="chart-photo-new"),
    path("charts/<int:chart>/photos/<int:photo>/", views.photo_file, name="chart-photo"),
    path("charts/<int:chart>/photos/<int:photo>/marks/", over_views.fit, name="chart-fit"),
    path("charts/<int:chart>/photos/<int:photo>/over/", over_views.over, name="chart-over"),
    path("charts/<int:chart>/photos/<int:photo>/compare/", over_views.compare, name="chart-compare"),
]
