"""Children: their records, and rosters being read in, row by row, nothing lost."""
