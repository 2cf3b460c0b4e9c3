"""All addresses. Each view says itself which roles may call it."""

from django.urls import include, path
from django.views.generic import RedirectView

from traywise.workbench.accounts.roles import open_to_all

urlpatterns = [
    path("", open_to_all(RedirectView.as_view(url="/day/")), name="home"),
    path("", include("traywise.workbench.accounts.urls")),
    path("", include("traywise.workbench.audit.urls")),
    path("", include("traywise.workbench.children.urls")),
    path("", include("traywise.workbench.day.urls")),
    path("", include("traywise.workbench.giving.urls")),
    path("", include("traywise.workbench.ledger.urls")),
    path("", include("traywise.workbench.shelf.urls")),
]

handler403 = "traywise.workbench.frame.views.refused"
handler404 = "traywise.workbench.frame.views.not_found"
handler500 = "traywise.workbench.frame.views.went_wrong"
