"""The bundled transforms."""
