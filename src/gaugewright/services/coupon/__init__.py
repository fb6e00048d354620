"""Coupon tests: stated, evaluated, made a metal of."""
