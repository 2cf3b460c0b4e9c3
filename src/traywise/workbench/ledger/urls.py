from django.urls import path, re_path

from traywise.workbench.ledger import views

urlpatterns = [
    path("ledger/", views.ledger, name="ledger"),
    path("ledger/<int:pk>/", views.entry, name="entry"),
    re_path(r"^ledger/(?P<pk>\d+)/(?P<how>undo|change)/$", views.correct, name="correct"),
]
