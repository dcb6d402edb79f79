"""How numbers, money, units and states are worded; no Streamlit."""
