"""Small pictures for tests, each of them one of its own."""

import cv2
import numpy as np


def jpeg(width=440, height=400, seed=1):
    """A JPEG of noise; another seed, other bytes."""
    return _made(".jpg", width, height, seed)


def png(width=440, height=400, seed=1):
    """A PNG of noise."""
    return _made(".png", width, height, seed)


def _made(kind, width, height, seed):
    noise = np.random.default_rng(seed).integers(0, 255, (height, width, 3), dtype=np.uint8)
    good, raw = cv2.imencode(kind, noise)
    assert good
    return raw.tobytes()
