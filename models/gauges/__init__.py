"""What gauges and hands do to readings: steps in which values are written, gauges that read otherwise."""
