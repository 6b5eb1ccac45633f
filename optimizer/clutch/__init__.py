"""Engagement speed, torque and wear: numbers only."""
