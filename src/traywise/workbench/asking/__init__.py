"""Asks the clinical rooms: the record plus the ledger in, answers and trays out.

The one place of the workbench that calls schedule, screening and tray. Answers are
kept in memory until the child, the answers, the shelf or the day change.
"""
