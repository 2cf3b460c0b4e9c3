from django.apps import AppConfig


class DayConfig(AppConfig):
    name = "traywise.workbench.day"
    label = "day"
