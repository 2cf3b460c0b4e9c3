"""The day: who is expected, who is here, who is being watched, who may leave."""
