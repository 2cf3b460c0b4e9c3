from django.apps import AppConfig


class ShelfConfig(AppConfig):
    name = "traywise.workbench.shelf"
    label = "shelf"
