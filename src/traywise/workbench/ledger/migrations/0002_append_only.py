from django.db import migrations

from traywise.workbench.audit.append_only import append_only


class Migration(migrations.Migration):
    dependencies = [("ledger", "0001_initial"), ("audit", "0002_append_only")]
    operations = [append_only("ledger_ledgerentry")]
