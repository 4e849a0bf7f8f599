"""Hydraulics of the overflow: sourced formulas, the balance of the box, its quiet window, and the flood check."""
