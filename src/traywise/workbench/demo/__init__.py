"""The invented demo clinic of the workbench: every name, lot and figure is made up.

``clinic.toml`` tells children by age, so that the demo is fresh on any day; ``load`` turns
it into records, appointments, lots and accounts.
"""
