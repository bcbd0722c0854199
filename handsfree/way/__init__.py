"""The order of a checklist that walks least, of those that its interlocks permit.

`places` says where each step is done, `ground` how far it is from place to place, `precedence`
what must come before what, `ordering` is the solver, `shortest` puts them together, and `drawing`
shows the way.  An order found here is the same checklist with its steps permuted: every interlock
and never rule is untouched, and the proof covers every order anyway.
"""
