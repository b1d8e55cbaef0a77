"""What the network hears. The same definition stands in src/notes/features.ts; tests compare the two on frozen vectors.

Sound at 22050 Hz, scaled by `level_gain`. Frame k is centred on sample 256·k. Two channels of 264 bands, 36 an octave,
band j at MIDI 36 + (j − 1)/3 (row r = j // 3 is MIDI 36 + r):
  channel 0  Hann windows of 8192 samples below 220 Hz, 4096 to 900 Hz, 2048 above; the long ones are windows of 1024
             on sound decimated 8 and 4 times, which costs an eighth;
  channel 1  Hann window of 1024 throughout, for onsets.
Each band: square root of the power under a triangle as wide as a bin or a band, whichever is wider; then
log(1 + 2000·m)/6. A sine of amplitude A at a band's centre gives m near A.
"""

import numpy as np
import torch
import torch.nn.functional as F

RATE_HZ = 22050
HOP = 256
BANDS = 264
BANDS_PER_OCTAVE = 36
LOWEST_BAND_MIDI = 36 - 1 / 3
LEVEL_BLOCK = 8192
LEVEL_TARGET = 0.1
LEVEL_GATE = 10 ** (-45 / 20)
LEVEL_SHARE = 0.9
COMPRESS = 2000.0
# (decimation, window length at that rate, lowest band centre, highest) in Hz; the half-lengths of the decimation filters
LONG = [(8, 1024, 0.0, 220.0), (4, 1024, 220.0, 900.0), (1, 2048, 900.0, 1e9)]
SHORT = (1, 1024, 0.0, 1e9)
DECIMATE = {8: (40, 1300.0), 4: (24, 2500.0)}  # half-length in samples, cut-off in Hz


def band_hz(cents=0.0):
    midi = LOWEST_BAND_MIDI + np.arange(BANDS) * 12 / BANDS_PER_OCTAVE
    return 440 * 2 ** ((midi - 69 + cents / 100) / 12)


def decimation_filter(factor):
    """Windowed sinc (Blackman), odd length, sum 1."""
    half, cutoff = DECIMATE[factor]
    n = np.arange(-half, half + 1)
    taps = np.sinc(2 * cutoff / RATE_HZ * n) * (0.42 + 0.5 * np.cos(np.pi * n / (half + 1)) + 0.08 * np.cos(2 * np.pi * n / (half + 1)))
    return taps / taps.sum()


def band_matrix(factor, window, low_hz, high_hz, cents=0.0):
    """Power weights (BANDS, bins) of one window for the bands it serves."""
    step = RATE_HZ / factor / window
    base = band_hz(0.0)  # which window serves a band does not depend on the tuning
    centres = band_hz(cents)
    weights = np.zeros((BANDS, window // 2 + 1))
    bins = np.arange(window // 2 + 1)
    for j in range(BANDS):
        if not low_hz <= base[j] < high_hz:
            continue
        width = max(1.0, centres[j] * (2 ** (1 / BANDS_PER_OCTAVE) - 1) / step)
        weights[j] = np.maximum(0, 1 - np.abs(bins - centres[j] / step) / width)
    return weights


def level_gain(x):
    """Gain (..., 1) that brings the 90th percentile of the block levels to LEVEL_TARGET; silent blocks, more than 45 dB
    under the loudest, do not count. The percentile is the sorted level at index floor(0.9·(count − 1))."""
    n = x.shape[-1] // LEVEL_BLOCK * LEVEL_BLOCK
    blocks = x[..., :n].reshape(*x.shape[:-1], -1, LEVEL_BLOCK).pow(2).mean(-1).sqrt()
    sorted_levels = blocks.sort(-1).values
    count = sorted_levels.shape[-1]
    silent = (sorted_levels < sorted_levels[..., -1:] * LEVEL_GATE).sum(-1, keepdim=True)
    at = silent + ((count - silent - 1) * LEVEL_SHARE).floor().long()
    return LEVEL_TARGET / sorted_levels.gather(-1, at).clamp_min(1e-7)


class Features(torch.nn.Module):
    """x (batch, samples), already levelled -> (batch, 2, frames, 264); frames = samples // 256 + 1."""

    def __init__(self, cents=0.0):
        super().__init__()
        for factor in DECIMATE:
            self.register_buffer(f"fir{factor}", torch.tensor(decimation_filter(factor), dtype=torch.float32))
        for k, spec in enumerate(LONG + [SHORT]):
            weights = band_matrix(*spec, cents)
            used = np.flatnonzero(weights.any(0))
            self.register_buffer(f"w{k}", torch.tensor(weights[:, : used.max() + 1].T.copy(), dtype=torch.float32))
            window = spec[1]
            hann = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(window) / window)
            # A sine of amplitude 1 has a peak of sum(hann)/2, and its power spreads over 1.5 bins under the triangle.
            self.register_buffer(f"h{k}", torch.tensor(hann * 2 / hann.sum(), dtype=torch.float32))

    def forward(self, x):
        frames = x.shape[-1] // HOP + 1
        powers = []
        for k, (factor, window, _, _) in enumerate(LONG + [SHORT]):
            y = x
            if factor > 1:
                half = DECIMATE[factor][0]
                y = F.conv1d(F.pad(x, (half, half))[:, None], getattr(self, f"fir{factor}")[None, None], stride=factor)[:, 0]
            hop = HOP // factor
            need = (frames - 1) * hop + window
            y = F.pad(y, (window // 2, max(0, need - window // 2 - y.shape[-1])))
            segments = y.unfold(-1, window, hop)[:, :frames] * getattr(self, f"h{k}")
            weights = getattr(self, f"w{k}")
            spectrum = torch.fft.rfft(segments)[..., : weights.shape[0]]
            powers.append((spectrum.real**2 + spectrum.imag**2) @ weights)
        m0 = (powers[0] + powers[1] + powers[2]).clamp_min(0).sqrt()
        m1 = powers[3].clamp_min(0).sqrt()
        return torch.log1p(COMPRESS * torch.stack([m0, m1], 1)) / 6
