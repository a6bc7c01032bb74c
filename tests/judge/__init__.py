"""The brute-force judge of the posterior, written apart from the engine.

``laws`` holds the physics of each kind a second time, ``solver`` finds operating points by
star-mesh elimination, ``model`` turns readings into means and covariances, ``posterior``
integrates over severity and process by nested adaptive quadrature, ``generator`` makes cases.
Nothing here imports ``diagnose.circuit`` or the inference code, except the plain dataclasses of
``diagnose.inference.measurement``.
"""
