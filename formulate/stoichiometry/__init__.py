"""What matter is made of: formulas, nutrients, units, slips and solutions."""
