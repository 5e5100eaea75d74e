"""Fans: laws, power, airflow by heat rise."""
