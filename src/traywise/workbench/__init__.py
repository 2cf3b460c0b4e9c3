"""The clinic's own page: from the roster to the record.

In come people (staff, by name and role), files (rosters), scans and presses; out
go pages, printed sheets, and entries in the ledger, the shelf and the audit trail.
This room holds no clinical rule: what is due, which product, needle and place, and
whether something may be given is asked of the rooms below. It imports Django; no
other room does.
"""
