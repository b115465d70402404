"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.checks import reading_views, round_views

urlpatterns: list[URLPattern] = [
    # the round
    path("round/", round_views.round_page, name="round"),
    path("round/sign/", round_views.sign, name="round-sign"),
    path("round/check/<path:key>/", round_views.round_check, name="round-check"),
    path("round/answer/<int:number>/", round_views.answer, name="reading-answer"),
    path("at/<slug:code>/", round_views.at, name="at"),
    # readings
    path("readings/", reading_views.readings, name="readings"),
    path("readings/new/", reading_views.free_reading, name="free-reading"),
    path("readings/<int:number>/", reading_views.reading, name="reading"),
    path("readings/<int:number>/kept/", reading_views.free_kept, name="free-kept"),
    path("readings/<int:number>/photo/", reading_views.photo, name="reading-photo"),
    path("readings/<int:number>/note/", reading_views.note, name="reading-note"),
    # what is due
    path("due/", reading_views.due, name="due"),
]
