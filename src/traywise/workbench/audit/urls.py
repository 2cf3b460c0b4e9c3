from django.urls import path

from traywise.workbench.audit import views

urlpatterns = [
    path("trail/", views.trail, name="trail"),
    path("trail/check/", views.check, name="trail-check"),
]
