"""The pure core: state, events, effects, and `advance` that leads from one to the next."""
