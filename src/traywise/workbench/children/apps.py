from django.apps import AppConfig


class ChildrenConfig(AppConfig):
    name = "traywise.workbench.children"
    label = "children"
