"""Writes frozen feature vectors for the test of the TypeScript features: python3 vectors.py ../../tests/fixtures/listener-features.json"""

import base64
import json
import sys

import numpy as np
import torch

import features

rng = np.random.default_rng(5)
n = 22050
t = np.arange(n) / 22050
x = 0.3 * np.sin(2 * np.pi * 110 * t) * np.exp(-t) + 0.2 * np.sin(2 * np.pi * 659.3 * t) * (t > 0.4) + 0.01 * rng.standard_normal(n)
x = np.round(x * 32767).astype("<i2")
sound = torch.tensor(x.astype(np.float32) / 32768)[None]
gain = features.level_gain(sound)
cases = []
for cents in (0.0, 17.0):
    both = features.Features(cents)(sound * gain)[0].numpy()
    for frame in (0, 3, 40, 86):
        row = np.concatenate([both[0, frame], both[1, frame]]).astype("<f4")
        cases.append(dict(cents=cents, frame=frame, values=base64.b64encode(row.tobytes()).decode()))
json.dump(
    dict(sampleRateHz=22050, gain=float(gain), frameCount=both.shape[1], samples=base64.b64encode(x.tobytes()).decode(), cases=cases),
    open(sys.argv[1], "w"),
)
