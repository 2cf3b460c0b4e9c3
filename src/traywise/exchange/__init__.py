"""The border: files and scans of other systems in, standard documents out.

In: a file or upload in our JSON, a table, HL7 FHIR R4, or a GS1 scan. Out: ``ReadResult``
with typed children and faults, or a ``Scan``. This room holds no rule of any schedule,
trusts nothing from outside and never raises for what it is given.
"""

from traywise.exchange.read_any import read_any, read_file

__all__ = ["read_any", "read_file"]
