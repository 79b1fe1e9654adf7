"""Colour: profiles and other declarations, linear light, and sRGB."""
