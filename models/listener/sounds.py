"""Sounds that are no notes, made here: talk-like, clicks, taps and body thumps, string squeaks, finger ticks.

Voice: a glottal pulse train with a gliding pitch through three moving resonances, broken by breaths of noise. Nobody's voice.
"""

import numpy as np
from scipy.signal import butter, lfilter, sosfilt

RATE_HZ = 22050


def _resonator(f, bw):
    r = np.exp(-np.pi * bw / RATE_HZ)
    return [1 - r], [1, -2 * r * np.cos(2 * np.pi * f / RATE_HZ), r * r]


def voice(rng):
    out = []
    f0 = rng.uniform(85, 240)
    for _ in range(rng.integers(3, 9)):
        n = int(rng.uniform(0.08, 0.3) * RATE_HZ)
        if rng.random() < 0.3:
            sos = butter(2, [rng.uniform(1500, 4000), rng.uniform(5000, 9500)], "band", fs=RATE_HZ, output="sos")
            part = sosfilt(sos, rng.normal(size=n)) * rng.uniform(0.05, 0.3) * np.hanning(n)
        else:
            glide = f0 * 2 ** (np.linspace(rng.uniform(-3, 3), rng.uniform(-4, 3), n) / 12)
            phase = np.cumsum(glide / RATE_HZ)
            pulses = np.diff(np.floor(phase), prepend=0.0) + 0.01 * rng.normal(size=n)
            part = lfilter([1], [1, -0.96], pulses)
            mix = np.zeros(n)
            for f, bw, a in ((rng.uniform(280, 850), 80, 1.0), (rng.uniform(900, 2300), 110, 0.6), (rng.uniform(2400, 3300), 160, 0.3)):
                mix += a * lfilter(*_resonator(f, bw), part)
            part = mix / (np.abs(mix).max() + 1e-9) * np.minimum(1, np.minimum(np.arange(n), np.arange(n)[::-1]) / (0.02 * RATE_HZ))
        out.append(part)
        if rng.random() < 0.3:
            out.append(np.zeros(int(rng.uniform(0.03, 0.2) * RATE_HZ)))
    return np.concatenate(out)[: int(3.0 * RATE_HZ)]


def click(rng):
    n = int(rng.uniform(0.015, 0.09) * RATE_HZ)
    t = np.arange(n) / RATE_HZ
    kind = rng.integers(3)
    if kind == 0:  # beep
        f = rng.choice([440, 660, 800, 880, 1000, 1200, 1760, 2000]) * rng.uniform(0.97, 1.03)
        return np.sin(2 * np.pi * f * t) * np.exp(-t / rng.uniform(0.008, 0.06))
    if kind == 1:  # wood block
        x = sum(np.sin(2 * np.pi * f * t) * np.exp(-t * rng.uniform(60, 250)) for f in rng.uniform(500, 4500, 3))
        return x
    return rng.normal(size=n) * np.exp(-t / rng.uniform(0.001, 0.01))


def thump(rng):
    n = int(rng.uniform(0.08, 0.3) * RATE_HZ)
    t = np.arange(n) / RATE_HZ
    x = np.zeros(n)
    for f in (rng.uniform(70, 125), rng.uniform(150, 240), rng.uniform(200, 420), rng.uniform(350, 900)):
        x += rng.uniform(0.1, 1) * np.sin(2 * np.pi * f * t + rng.uniform(0, 6)) * np.exp(-t * rng.uniform(18, 90))
    x += rng.uniform(0, 0.7) * rng.normal(size=n) * np.exp(-t / rng.uniform(0.002, 0.015))
    return x


def squeak(rng):
    n = int(rng.uniform(0.06, 0.4) * RATE_HZ)
    f = np.linspace(rng.uniform(700, 3500), rng.uniform(700, 3500), n)
    phase = 2 * np.pi * np.cumsum(f + rng.normal(size=n) * 60) / RATE_HZ
    x = np.sin(phase) + 0.4 * np.sin(2 * phase) + rng.uniform(0.3, 2) * rng.normal(size=n)
    sos = butter(2, [500, 8000], "band", fs=RATE_HZ, output="sos")
    return sosfilt(sos, x) * np.hanning(n)


def tick(rng):
    n = int(rng.uniform(0.004, 0.025) * RATE_HZ)
    sos = butter(1, [rng.uniform(300, 2500), rng.uniform(4000, 10000)], "band", fs=RATE_HZ, output="sos")
    return sosfilt(sos, rng.normal(size=n)) * np.exp(-np.arange(n) / n * 4)


def make_distractors(seed):
    """List of (kind, samples with a level of about 1 over their first 0.3 s)."""
    rng = np.random.default_rng(seed)
    made = []
    for kind, make, count in (("voice", voice, 80), ("click", click, 60), ("thump", thump, 80), ("squeak", squeak, 50), ("tick", tick, 50)):
        for _ in range(count):
            made.append((kind, make(rng).astype(np.float32)))
    return made
