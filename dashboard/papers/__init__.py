"""What is printed or saved: brief, plan, workbook, PDF; no Streamlit."""
