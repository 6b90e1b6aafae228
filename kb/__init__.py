"""The knowledge base: YAML only."""
