"""How transforms come in: what a transform is, the hooks, and the registry."""

from headrace.plugins.hooks import hookimpl, hookspec
from headrace.plugins.transform import Facet, Transform, transform

__all__ = ["Facet", "Transform", "hookimpl", "hookspec", "transform"]
