"""What is told of an open engine and of parts that move, from the store to the models and back. No screen."""
