"""What strangers made is read in a process of its own, which can be stopped, may break, and has nothing."""
