"""Sound in and out of the machine."""
