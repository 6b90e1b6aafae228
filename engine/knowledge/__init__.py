"""YAML to frozen models, with every error named by file, line and column."""
