from django.urls import path

from traywise.workbench.accounts import views

urlpatterns = [
    path("first/", views.first, name="first"),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("wake/", views.wake, name="wake"),
    path("rest/", views.rest, name="rest"),
    path("own/", views.own, name="own"),
    path("staff/", views.staff_list, name="staff"),
    path("staff/new/", views.staff_new, name="staff-new"),
    path("staff/<int:pk>/", views.staff_one, name="staff-one"),
    path("healthy/", views.healthy, name="healthy"),
]
