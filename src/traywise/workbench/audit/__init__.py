"""The audit trail: who saw and did what. Appended to, never edited; shows tampering."""
