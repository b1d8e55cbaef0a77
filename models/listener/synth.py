"""Plucked strings by modal synthesis: what the recorded notes are short of, steel acoustics with known strings.

Each guitar is drawn at random: gauges (stiffness B by string, growing by 2^(1/6) a fret), pluck position, finger width,
losses (constant, air and inner friction: s0 + s1·f + s2·f²), two polarisations (pitch a few tenths of a Hz apart, more so
higher up; one decaying up to five times as fast), pick noise. The body follows in the renderer. Loss ranges were set by eye on the
recorded steel and nylon notes: half a minute of decay is never reached, 3 kHz is gone within a second.
Sources for the shape of the model: stiff string f_n = n·f0·sqrt(1 + B·n²), Fletcher & Rossing, The Physics of Musical Instruments, ch. 2 and 9.
"""

import math

import numpy as np
import torch

RATE_HZ = 22050
OPEN = [64, 59, 55, 50, 45, 40]  # strings 1..6


def synth_bank(seed, guitars, device, length_sec=3.2, fret_step=2, frets=16):
    """Returns list of dicts (guitar, string, fret, midi) and a tensor (notes, samples), peak 1."""
    rng = np.random.default_rng(seed)
    rows, params = [], []
    for g in range(guitars):
        nylon = rng.random() < 0.25
        plain_b, wound_b = (3e-5, 6e-5) if nylon else (2.2e-5, 9e-5)
        beta = rng.uniform(0.09, 0.3)
        width = rng.uniform(1800, 6500) * (0.6 if nylon else 1)
        s0 = rng.uniform(0.5, 1.3) * (1.5 if nylon else 1)
        s1, s2 = rng.uniform(0.5, 1.4) * (1.6 if nylon else 1), rng.uniform(0.15, 0.7) * (1.8 if nylon else 1)
        pol_decay, pol_share = rng.uniform(1.1, 5), rng.uniform(0.25, 0.8)
        click = rng.uniform(0, 0.05) if rng.random() < 0.7 else rng.uniform(0.05, 0.2)
        tune = rng.normal(0, 2.5, 6)
        wound_from = 4 if rng.random() < 0.7 or nylon else 3
        for s in range(1, 7):
            wound = s >= wound_from
            b0 = (wound_b if wound else plain_b) * rng.uniform(0.5, 1.9) * (1.3 if s in (3, 6) else 1)
            string_s0 = s0 * rng.uniform(0.8, 1.3) * (1.15 if not wound else 0.9)
            bright = rng.uniform(0.8, 1.25) * (1.0 if wound else 1.1)
            for fret in range(0, frets, fret_step):
                f = fret + (rng.integers(0, fret_step) if fret > 0 else 0)
                midi = OPEN[s - 1] - 2 * (fret == 0 and rng.random() < 0.3) + f
                f0 = 440 * 2 ** ((midi - 69 + tune[s - 1] / 100) / 12)
                rows.append(dict(guitar=g, string=s, fret=int(f), midi=int(round(midi)), cents=float(tune[s - 1])))
                params.append((
                    f0, b0 * 2 ** (f / 6), min(0.48, beta * 2 ** (f / 12) * rng.uniform(0.85, 1.15)), width * bright * rng.uniform(0.75, 1.3),
                    string_s0 * (1 + 0.035 * f), s1, s2 * (1 + 0.03 * f), pol_decay * rng.uniform(0.8, 1.2), pol_share * rng.uniform(0.7, 1.2),
                    abs(rng.normal(0, 0.25)), click * rng.uniform(0.5, 1.5), 0.9 + 0.5 * rng.random(),
                ))
    P = torch.tensor(np.array(params), dtype=torch.float32, device=device)
    gen = torch.Generator(device="cpu").manual_seed(seed)
    n = int(length_sec * RATE_HZ)
    t = torch.arange(n, device=device, dtype=torch.float32) / RATE_HZ
    out = torch.zeros(len(rows), n, device=device)
    f0, B, beta, width, s0, s1, s2, pd, ps, split, click, slope = [P[:, k : k + 1] for k in range(12)]
    for k in range(1, 71):
        f = k * f0 * torch.sqrt(1 + B * k * k)
        # Pluck shape (comb), finger width (low-pass), falling with the order; partials near half the rate fade out.
        amp = torch.sin(math.pi * k * beta).abs().clamp_min(0.02) / k**slope * torch.exp(-((f / width) ** 1.5))
        amp = amp * (10 ** (torch.randn(len(rows), 1, generator=gen).to(device) * 2.5 / 20)) * ((10200 - f) / 400).clamp(0, 1)
        live = (amp[:, 0] > 1e-4).nonzero()[:, 0]
        if len(live) == 0:
            break
        for at in range(0, len(live), 400):
            i = live[at : at + 400]
            kf = f[i] / 1000
            sigma = s0[i] + s1[i] * kf + s2[i] * kf * kf
            phase = torch.rand(len(i), 1, generator=gen).to(device) * 0.6
            one = torch.exp(-sigma * t) * torch.sin(2 * math.pi * f[i] * t + phase)
            apart = split[i] * k**0.7 * (0.5 + torch.rand(len(i), 1, generator=gen).to(device))  # every partial beats at a rate of its own
            two = torch.exp(-sigma * pd[i] * t) * torch.sin(2 * math.pi * (f[i] + apart) * t + phase)
            out[i] += amp[i] * (one * ps[i] + two * (1 - ps[i] * 0.7))
    rise = (t / 0.0012).clamp(max=1)
    noise = torch.randn(len(rows), 1200, generator=gen).to(device) * torch.exp(-t[:1200] / 0.004)
    out *= rise
    out /= out.abs().amax(1, keepdim=True)
    out[:, :1200] += noise * click
    out[:, -1300:] *= torch.linspace(1, 0, 1300, device=device)
    out /= out.abs().amax(1, keepdim=True)
    return rows, out
