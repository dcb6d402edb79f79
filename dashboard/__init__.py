"""What people touch: pages and command line."""
