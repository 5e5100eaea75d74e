"""Ventilation that a standard asks for, supply air that a pressure asks for, and what it costs to condition."""
