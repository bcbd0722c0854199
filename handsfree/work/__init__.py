"""Calculations of the trade: numbers in, a finding with a verdict and something to say out.

Pure: no clock, file, sound or command line in this room.  The two outside libraries, pint in
`quantities` and astral in `daylight`, are imported when first used, so that importing this
package costs nothing.

Lengths, weights and pressures are in the units that rigs are labelled in; a name ends in its
unit (``track_in``, ``gross_lb``, ``tap_psi``).  Metric input is converted by `quantities`, and
`Finding.values` carries the metric twin of every customary value.

Every finding advises; the operator decides and looks.  The owner's manual, local code and
licensed trades come first.
"""
