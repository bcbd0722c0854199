"""Whether everything is there that a session needs, and what to do where it is not."""
