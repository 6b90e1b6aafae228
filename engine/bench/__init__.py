"""The trade's calculations, one module a subject."""
