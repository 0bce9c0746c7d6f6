"""What is known: salts, solids, saturated liquids, densities, cautions, sources."""
