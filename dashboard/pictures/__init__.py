"""Drawings and charts made from frames; no Streamlit."""
