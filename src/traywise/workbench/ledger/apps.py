from django.apps import AppConfig


class LedgerConfig(AppConfig):
    name = "traywise.workbench.ledger"
    label = "ledger"
