"""The brute-force judge of the posterior, written apart from the engine.

``laws`` (with ``field``, ``output`` and ``sensing``) holds the physics of each kind a second time,
and what parts hand on to those that follow them; ``solver`` finds operating points by
star-mesh elimination, ``world`` and ``circuit`` put faults, conditions and meters into it;
``margins`` and ``model`` turn readings into means and covariances, ``slices`` the bend at
lift-off; ``cells``, ``boxes`` and ``posterior`` integrate over severity and process by nested
adaptive quadrature; ``sampling`` draws tolerances through the whole circuit where that found
weight, ``two_faults`` weighs all pairs of faults; ``generator`` makes cases, ``small`` a loop by
hand.
Nothing here imports ``diagnose.circuit`` or the inference code, except the plain dataclasses of
``diagnose.inference.measurement``.
"""
