"""A sheet judged as a whole before anything of it is stored: what it decides by itself, and what is asked."""
