"""Loads the demo clinic of ``traywise.demo`` into the workbench, with invented staff."""
