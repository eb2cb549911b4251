"""How transforms come in: what a transform is and may change, the hooks, and the registry."""

from headrace.plugins.contract import Affine, Contract, Facet, Renumbering, Wrap
from headrace.plugins.hooks import hookimpl, hookspec
from headrace.plugins.outcome import Part, Use
from headrace.plugins.trailing import Trailing
from headrace.plugins.transform import Transform, transform

__all__ = [
    "Affine",
    "Contract",
    "Facet",
    "Part",
    "Renumbering",
    "Trailing",
    "Transform",
    "Use",
    "Wrap",
    "hookimpl",
    "hookspec",
    "transform",
]
