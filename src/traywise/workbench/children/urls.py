from django.urls import path

from traywise.workbench.children import roster_views, views

urlpatterns = [
    path("children/", views.children, name="children"),
    path("children/new/", views.child_new, name="child-new"),
    path("child/<int:pk>/", views.child, name="child"),
    path("child/<int:pk>/edit/", views.child_edit, name="child-edit"),
    path("child/<int:pk>/past-dose/", views.past_dose, name="past-dose"),
    path(
        "child/<int:pk>/past-dose/<int:number>/remove/",
        views.past_dose_remove,
        name="past-dose-remove",
    ),
    path("day/<str:text>/roster/", roster_views.roster, name="roster"),
    path("import/<int:pk>/", roster_views.import_one, name="import"),
    path("import/row/<int:pk>/aside/", roster_views.row_aside, name="row-aside"),
]
