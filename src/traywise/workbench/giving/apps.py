from django.apps import AppConfig


class GivingConfig(AppConfig):
    name = "traywise.workbench.giving"
    label = "giving"
