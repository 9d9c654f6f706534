"""Articulation maps: the document, its checks, and the sampler table that both scheduler and listener read."""
