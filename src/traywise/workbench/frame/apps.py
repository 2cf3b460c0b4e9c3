from django.apps import AppConfig


class FrameConfig(AppConfig):
    name = "traywise.workbench.frame"
    label = "frame"
