"""What equilibrium does: formulas, densities, saturation branches, the phase map."""
