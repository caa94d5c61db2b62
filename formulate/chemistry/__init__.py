"""What happens in the water: ions and pairs, pH, conductivity, solids."""
