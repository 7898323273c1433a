"""The plugins that come with Clothpath; each registers through the entry points in pyproject.toml."""
