from django.urls import path

from traywise.workbench.shelf import views

urlpatterns = [
    path("shelf/", views.shelf, name="shelf"),
    path("shelf/receive/", views.receive, name="receive"),
    path("shelf/order/", views.order, name="order"),
    path("shelf/supply/", views.supply, name="supply-new"),
    path("shelf/supply/<int:pk>/", views.supply, name="supply"),
    path("shelf/lot/<int:pk>/", views.lot, name="lot"),
    path("shelf/lot/<int:pk>/<str:what>/", views.lot_move, name="lot-move"),
]
