"""Standing by: between one checklist and the next, until the operator calls.

`phrases` says what may be said, `rig_knowledge` what is known of the rig, `answering` puts the two
together, `conversation` puts them into words.  `wake_phrase` listens for the call, `clock` says
whether the time of day can be believed, `service_notify` tells a service manager that all is well.
"""
