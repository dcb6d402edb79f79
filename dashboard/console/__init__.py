"""What the commands share: their options, what they take, how they print JSON."""
