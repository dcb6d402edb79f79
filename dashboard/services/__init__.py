"""Store to models and back: forecast, plan, case, score, share; no Streamlit, no command line."""
