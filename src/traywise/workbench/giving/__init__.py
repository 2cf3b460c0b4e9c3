"""One visit: screening, the tray, giving and recording, watching, the parent's sheet."""
