from django.apps import AppConfig


class AuditConfig(AppConfig):
    name = "traywise.workbench.audit"
    label = "audit"
