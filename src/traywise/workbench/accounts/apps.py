from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "traywise.workbench.accounts"
    label = "accounts"
