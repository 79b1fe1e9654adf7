"""Arrays and bytes only: read, colour, resample, sharpen, encode, metadata.

Nothing here knows the config, writes a log line or asks for the time.
"""
