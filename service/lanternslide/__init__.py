"""lanternslide: web pictures from a photographer's full-size exports, for every place they will be seen."""

__all__ = ["__version__"]

__version__ = "0.2.0"
