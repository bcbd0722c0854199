"""Two operators in one session, on two microphones or on one."""
