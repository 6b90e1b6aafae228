"""How tubes, rectifiers and supplies behave: their laws, fitted to the published points of kb/reference."""
