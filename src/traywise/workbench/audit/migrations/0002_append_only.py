from django.db import migrations

from traywise.workbench.audit.append_only import append_only, chain_head


class Migration(migrations.Migration):
    dependencies = [("audit", "0001_initial")]
    operations = [
        chain_head("audit"),
        chain_head("ledger"),
        append_only("audit_auditentry"),
    ]
