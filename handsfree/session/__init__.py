"""One session: what may be said, what was meant, what is spoken, what is written down."""
