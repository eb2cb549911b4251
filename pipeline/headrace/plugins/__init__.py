"""How transforms come in: what a transform is and may change, the hooks, and the registry."""

from headrace.plugins.contract import Affine, Contract, Facet
from headrace.plugins.hooks import hookimpl, hookspec
from headrace.plugins.transform import Transform, transform

__all__ = ["Affine", "Contract", "Facet", "Transform", "hookimpl", "hookspec", "transform"]
