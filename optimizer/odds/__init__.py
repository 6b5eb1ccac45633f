"""How likely the true loads are within tolerance."""
