"""Checklists on paper, for the day when the battery is dead."""
