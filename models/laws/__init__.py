"""How the rates of the parts of a family are spread: laws written as sums of normals."""
