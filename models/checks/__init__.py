"""What must agree: checks across wear points, limits against the law, boxes, condemned parts."""
