"""Review: where the time went in past sessions, and when to start the next one."""
