"""The trade's calculations, one module per subject."""
