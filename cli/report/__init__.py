"""A decided job on paper: one page with its drawings, for the shop, a customer or the crew."""
