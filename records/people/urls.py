"""Routes of this feature, in the namespace records."""

from django.urls import URLPattern, path

from records.people import door, people_views, plan_views, tablet_views

urlpatterns: list[URLPattern] = [
    # at the door
    path("", door.home, name="home"),
    path("sign-in/", door.sign_in, name="sign-in"),
    path("sign-out/", door.sign_out, name="sign-out"),
    path("lock/", door.lock, name="lock"),
    path("link/<str:token>/", door.new_secret, name="new-secret"),
    path("tablet/<str:token>/", door.tablet_open, name="tablet-open"),
    # people/
    path("people/", people_views.people, name="people"),
    path("people/add/", people_views.add, name="person-add"),
    path("people/<uuid:person_id>/", people_views.person, name="person"),
    path("people/<uuid:person_id>/grant/", people_views.grant, name="person-role-grant"),
    path("people/<uuid:person_id>/end-role/", people_views.end, name="person-role-end"),
    path("people/<uuid:person_id>/reset/<str:kind>/", people_views.reset, name="person-reset"),
    path("people/<uuid:person_id>/confirm/", people_views.confirm, name="person-confirm"),
    path("people/<uuid:person_id>/unlock/", people_views.unlock_away, name="person-unlock-away"),
    path("people/<uuid:person_id>/unlock/<uuid:tablet_id>/", people_views.unlock, name="person-unlock"),
    path("people/<uuid:person_id>/renew/", people_views.renew, name="person-renew"),
    path("people/<uuid:person_id>/leave/", people_views.leave, name="person-leave"),
    # tablets/
    path("tablets/", tablet_views.tablets, name="tablets"),
    path("tablets/enrol/", tablet_views.enrol, name="tablet-enrol"),
    path("tablets/<uuid:tablet_id>/withdraw/", tablet_views.withdraw, name="tablet-withdraw"),
    # the plan
    path("plan/<int:number>/approve/", plan_views.approve, name="plan-approve"),
    path("revise/<slug:table>/<slug:code>/", plan_views.revise, name="plant-revise"),
]
