"""Populations: the schedule's answer for millions of children at a time.

In: Parquet files of children (contract: id, born, sex, doses, conditions). Out: Parquet
files of answers, counts of coverage, lists for recall, differences between editions.
The rules are the functions of ``schedule``, compiled; this room holds none of its own.
It never looks at contraindications or screening answers, and never changes its input.
Start at ``forecast.py``; ``kernel.py`` is the only file that imports numba.
"""
