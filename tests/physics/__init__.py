"""The physics of the kinds for ngspice, one module for each group of kinds.

``PHYSICS[kind]`` turns parameters (SI, after the changes) and what the part is given (the process
value, or the signals that it follows) into branches ``(pin, pin, elements in series)``;
``SIGNALS[kind]`` turns parameters, the volts across the first two pins and what the part is given
into the signal that it hands on.  Written from the physics, not from the laws of the kinds.
"""
