"""Constants of nature and of the trade that several subjects share."""

from __future__ import annotations

GRAVITY = 9.80665
"""Standard acceleration of free fall. [m/s2], exact by definition"""
STANDARD_PRESSURE = 101_325.0
"""Standard atmosphere. [Pa], exact by definition"""
DRY_AIR_CONSTANT = 287.042
"""Gas constant of dry air. [J/(kg K)], ASHRAE2017, chapter 1"""
HEAT_CAPACITY = 1004.832
"""Heat capacity of dry air, 0.24 Btu/(lb F) as the trade's 1.08 has it. [J/(kg K)]"""
TRADE_DENSITY = 1.2
"""Density that the leakage formulas of the trade take as given. [kg/m3]"""
STANDARD_AIR_DENSITY = 0.075 * 0.45359237 / 0.3048**3
"""Density that a 'standard' cubic foot has, 0.075 lb/ft3. [kg/m3], exact by definition"""
