"""Pours in virtual time, thousands of them: what is called in band, and what it truly is."""
