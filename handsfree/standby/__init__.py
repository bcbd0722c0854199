"""Standing by: between one checklist and the next, until the operator calls.

`phrases` says what may be said, `knowing` what is known of the rig, `answering` puts the two
together, `attending` is the conversation.  `calling` listens for the call phrase, `clock` says
whether the time of day can be believed, `notifying` tells a service manager that all is well.
"""
