"""The pooled wear model, behind the interface that every forecaster has."""
