"""Streamlit pages: they arrange and call, and compute nothing."""
