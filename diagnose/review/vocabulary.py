"""Words of maintenance records: mode, mechanism, cause, detection and activity, kept apart.

A *mode* is what operations saw, a *mechanism* how the part failed, a *cause* why; they are never
mixed.  The terms are those of ISO 14224:2016, from memory and in our words; codes of a company are
mapped to them, or to its own terms, by the file that an import names.
"""

from __future__ import annotations

from collections.abc import Mapping

MODES: Mapping[str, str] = {
    "reads high": "high output",
    "reads low": "low output",
    "reads zero": "no output",
    "erratic": "erratic output",
    "frozen": "abnormal instrument reading",
    "clips": "abnormal instrument reading",
    "disagree": "abnormal instrument reading",
    "tripped": "spurious operation",
    "no trip": "failure to function on demand",
    "does not follow": "failure to function on demand",
    "stays on": "failure to function on demand",
    "stays off": "failure to function on demand",
}
"""The mode of a complaint; a complaint that is not here is its own mode."""

MECHANISMS: Mapping[str, str] = {
    "open": "open circuit",
    "fuse blown": "open circuit",
    "lost": "no power",
    "dead": "no power",
    "output dead": "no signal",
    "burnt out": "open circuit",
    "short": "short circuiting",
    "shorted": "short circuiting",
    "shorted turns": "short circuiting",
    "diode shorted": "short circuiting",
    "input shorted": "short circuiting",
    "leakage": "earth or isolation fault",
    "earthed": "earth or isolation fault",
    "diodes leak": "earth or isolation fault",
    "high resistance": "faulty signal",
    "frozen": "faulty signal",
    "failed low": "faulty signal",
    "failed high": "faulty signal",
    "fixed output": "faulty signal",
    "input collapsed": "faulty signal",
    "low": "faulty power",
    "sagging": "faulty power",
    "weak": "faulty power",
    "drift": "out of adjustment",
    "zero error": "out of adjustment",
    "span error": "out of adjustment",
    "output error": "out of adjustment",
    "input error": "out of adjustment",
    "scaling": "out of adjustment",
    "shifted": "out of adjustment",
    "set point wrong": "out of adjustment",
    "switch point wrong": "out of adjustment",
    "blocked": "blockage",
    "nozzle plugged": "blockage",
    "restriction plugged": "blockage",
    "exhaust plugged": "blockage",
    "leak": "leakage",
    "stuck": "sticking",
    "sticking": "sticking",
    "jammed": "sticking",
    "welded": "sticking",
}
"""The mechanism of a fault mode; one that is not here has none yet."""

ON_COMPLAINT = "on complaint of operations"
"""How a hunt that begins with a complaint came about."""

FIELDS = ("mode", "mechanism", "cause", "detection", "activity")
"""Columns of a row that hold terms, each of a vocabulary of its own."""
