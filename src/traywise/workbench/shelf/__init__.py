"""The shelf's pages: lots, open vials, receiving, counting, waste, quarantine, order."""
