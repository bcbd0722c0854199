"""A session without a sound card: simulated channel, synthesised operator, script."""
