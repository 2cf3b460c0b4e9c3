from django.urls import path

from traywise.workbench.accounts import factor_views, views

urlpatterns = [
    path("first/", views.first, name="first"),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-in/code/", factor_views.sign_in_code, name="sign-in-code"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("wake/", views.wake, name="wake"),
    path("rest/", views.rest, name="rest"),
    path("own/", views.own, name="own"),
    path("own/second-factor/", factor_views.own_factor, name="own-factor"),
    path("staff/", views.staff_list, name="staff"),
    path("staff/new/", views.staff_new, name="staff-new"),
    path("staff/<int:pk>/", views.staff_one, name="staff-one"),
    path("staff/<int:pk>/second-factor/", factor_views.reset_factor, name="factor-reset"),
    path("healthy/", views.healthy, name="healthy"),
]
