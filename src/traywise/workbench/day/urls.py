from django.urls import path

from traywise.workbench.day import views

urlpatterns = [
    path("day/", views.today, name="day"),
    path("day/<str:text>/", views.day, name="day-of"),
    path("day/<str:text>/board/", views.board, name="board"),
    path("day/<str:text>/plan/", views.plan, name="plan"),
    path("day/<str:text>/picks/", views.picks, name="picks"),
    path("day/<str:text>/add/<int:pk>/", views.add, name="add-visit"),
    path("visit/<int:pk>/step/<str:name>/", views.step, name="step"),
]
