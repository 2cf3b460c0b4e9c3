from django.urls import path

from traywise.workbench.giving import after_views, change_views, views

urlpatterns = [
    path("visit/<int:pk>/tray/", views.tray, name="tray"),
    path("visit/<int:pk>/screen/", views.screen, name="screen"),
    path("visit/<int:pk>/change/<int:number>/", change_views.change, name="change"),
    path("visit/<int:pk>/decide/", change_views.decide, name="decide"),
    path("visit/<int:pk>/start/", views.start, name="start"),
    path("visit/<int:pk>/lay-again/", views.lay_again, name="lay-again"),
    path("visit/<int:pk>/give/", views.give, name="give"),
    path("visit/<int:pk>/stop-here/", views.stop_here, name="stop-here"),
    path("visit/<int:pk>/after/", after_views.after, name="after"),
    path("visit/<int:pk>/reaction/", after_views.reaction, name="reaction"),
    path("visit/<int:pk>/sheet/<str:language>/", after_views.sheet, name="sheet"),
    path("visit/<int:pk>/paper/", after_views.tray_paper, name="tray-paper"),
    path("day/<str:text>/papers/", after_views.day_paper, name="day-paper"),
    path("visit/<int:pk>/reach/<int:number>/", after_views.reach_picture, name="reach"),
]
