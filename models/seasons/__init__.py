"""What the parts of one vehicle share: seasons that wear all of them faster or slower, and futures of the
vehicle."""
