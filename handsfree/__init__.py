"""Spoken checklists for a solo operator who sets up and tears down a towed trailer."""

__version__ = "0.1.0"
