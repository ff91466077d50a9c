"""What stands in for libraries that come only as source to be compiled."""

VOICE = {"pymicro_vad": "MicroVad", "pyspeex_noise": "AudioProcessor"}
"""Voice libraries that Home Assistant's start imports, and what it takes from each. They come only as source to be compiled."""
