"""Jobs kept on disk."""
