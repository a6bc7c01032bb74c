"""The signs of a drawing as SVG, drawn round 0 0 for a wire that runs to the right.

After the simple signs of IEC 60617 (resistor, fuse, diode, lamp, coil, contact) and the circle of
ISA-5.1 for an instrument; drawn for this project.
"""

from __future__ import annotations

from diagnose.circuit.figure import Sign
from diagnose.review.page.markup import Markup, el, trusted

SIGNS = {
    "box": '<rect x="-4" y="-2.2" width="8" height="4.4"/>',
    "wire": '<path d="M-4 0H4 M-1.2 1.4L-0.2 -1.4 M0.2 1.4L1.2 -1.4"/>',
    "clamp": '<circle r="1.5"/><path d="M-1.05 1.05L1.05 -1.05"/>',
    "link": '<path d="M-4 0H-2.2 M2.2 0H4 M-1.6 -1.9H1.6 M-1.6 -1.9V-0.6 M1.6 -1.9V-0.6"/>'
    '<circle cx="-1.6" r="0.7"/><circle cx="1.6" r="0.7"/>',
    "fuse": '<rect x="-4" y="-1.5" width="8" height="3"/><path d="M-4 0H4"/>',
    "resistor": '<rect x="-4" y="-1.5" width="8" height="3"/>',
    "diode": '<path d="M-1.6 -1.9V1.9L1.7 0z M1.7 -1.9V1.9"/>',
    "blocking_diode": '<path d="M1.6 -1.9V1.9L-1.7 0z M-1.7 -1.9V1.9"/>',
    "source": '<circle r="3"/><path d="M0.5 0H1.9 M-1.9 0H-0.5 M-1.2 -0.7V0.7"/>',
    "instrument": '<circle r="3.2"/>',
    "lamp": '<circle r="2.6"/><path d="M-1.84 -1.84L1.84 1.84 M-1.84 1.84L1.84 -1.84"/>',
    "coil": '<rect x="-2.2" y="-3.2" width="4.4" height="6.4"/><path d="M-2.2 3.2L2.2 -3.2"/>',
    "contact": '<rect x="-3.4" y="-2.6" width="6.8" height="3.4" fill="white" stroke="none"/>'
    '<path d="M-4 0H-2.4L2.2 -2.4 M2.4 0H4"/>',
    "valve": '<path d="M-3.4 -2V2L3.4 -2V2z"/>',
}
"""Signs that turn with their wire."""

FIXED = {
    "node": '<circle r="0.95" fill="black" stroke="none"/>',
    "down": '<path d="M0 1.3l-1.2 -2.6h2.4z" fill="black" stroke="none"/>',
    "up": '<path d="M0 -1.3l-1.2 2.6h2.4z" fill="black" stroke="none"/>',
    "earth": '<path d="M-2.2 0H2.2 M-1.4 0.9H1.4 M-0.6 1.8H0.6"/>',
    "earth-right": '<path d="M0 -2.2V2.2 M0.9 -1.4V1.4 M1.8 -0.6V0.6"/>',
    "earth-left": '<path d="M0 -2.2V2.2 M-0.9 -1.4V1.4 M-1.8 -0.6V0.6"/>',
}


def sign(it: Sign) -> Markup:
    """One sign where it stands; heavy where it is suspected, dashed where it is a latent defect."""
    fixed = FIXED.get(it.name)
    turn = f" rotate({it.turn})" if it.turn and fixed is None else ""
    return el(
        "g",
        trusted(fixed or SIGNS.get(it.name, SIGNS["box"])),
        transform=f"translate({it.x:.2f} {it.y:.2f}){turn}",
        fill="white",
        stroke_width=1.1 if it.suspected else 0.45,
        stroke_dasharray="1.2 0.8" if it.latent else None,
    )
