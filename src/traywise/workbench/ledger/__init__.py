"""The ledger's pages: what was given, wasted, received, corrected; nothing is erased."""
