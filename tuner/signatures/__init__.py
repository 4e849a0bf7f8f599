"""Signatures: from textures to named features, from features to sounds."""
