"""The review as one self-contained page: HTML, style and script in a single file, no network.

``markup`` escapes whatever it is given; ``grid`` makes tables, ``axes``, ``bars``, ``intervals``
and ``reliability`` pictures; ``what_…`` the sections; ``whole`` puts the page together.
"""
