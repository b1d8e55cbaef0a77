"""Decodes the recorded guitar notes into one file for training.

In: the folder of single notes with its index.json (see card.json for origins and licences) and, if given, the folder
Tone_000 of Debian's package freepats (GUS patches). Out: an .npz with int16 samples at 22050 Hz, one after another, and
for each note: start, length, guitar, MIDI number, cents off it, string (1 = highest, 0 unknown), fret (-1 unknown).

    python3 bank.py --notes NOTES_DIR --freepats TONE_000_DIR --out bank.npz
"""

import argparse
import json
import struct
import subprocess
from multiprocessing.pool import ThreadPool
from pathlib import Path

import numpy as np
from scipy.signal import resample_poly

RATE_HZ = 22050
MAX_SEC = 3.2
# A plucked note is loudest at its pluck. One that is louder later, by more than this, was struck again or swells: it would
# teach onsets that no label names. Of the 985 notes 978 are never louder later (0.0 dB at most); seven are, by 6.7 to 18 dB.
STRUCK_AGAIN_DB = 3.0
# Guitars of freepats worth having: file, name here, (string, fret) by sample where the sample's name tells it.
FREEPATS = {
    "freepats-nylon": ("024_Nylon_Guitar.pat", [(6, 0), (5, 0), (4, 0), (3, 0), (2, 0), (1, 0), (1, 5), (1, 10)]),
    "freepats-steel": (
        "025_Steel_Guitar.pat",
        [(6, 0), (6, 3), (4, 0), (4, 5), (3, 5), (2, 5), (1, 5), (1, 8), (1, 12), (1, 17)],
    ),
    "freepats-jazz": ("026_Jazz_Guitar.pat", None),
    "freepats-clean": ("027_Clean_Electric_Guitar.pat", None),
}


def decode_ogg(path):
    """Any file ffmpeg reads, as float mono at RATE_HZ."""
    raw = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(path), "-ac", "1", "-ar", str(RATE_HZ), "-f", "s16le", "-"],
        check=True, capture_output=True,
    ).stdout
    return np.frombuffer(raw, "<i2").astype(np.float32) / 32768


def read_pat(path):
    """Samples of a GUS patch: list of (midi as float, float samples at RATE_HZ). Layout: GF1 patch 110."""
    data = path.read_bytes()
    assert data[:12] == b"GF1PATCH110\0", path
    at, found = 239, []
    for _ in range(data[198]):
        head = data[at : at + 96]
        size, _, _ = struct.unpack("<III", head[8:20])
        (rate,) = struct.unpack("<H", head[20:22])
        (root,) = struct.unpack("<I", head[30:34])
        assert head[55] & 3 == 1, "16-bit signed only"
        samples = np.frombuffer(data[at + 96 : at + 96 + size], "<i2").astype(np.float64) / 32768
        at += 96 + size
        up, down = RATE_HZ, rate
        g = np.gcd(up, down)
        if max(up, down) // g > 2000:  # odd rates: near enough ratio, the pitch is measured afterwards
            down, g = int(round(rate / 50)) * 50, np.gcd(up, int(round(rate / 50)) * 50)
        found.append((69 + 12 * np.log2(root / 1000 / 440), resample_poly(samples, up // g, down // g)))
    return found


def cents_off(samples, midi):
    """How far the note sounds from its MIDI number: autocorrelation peak near the period, 0.1 to 0.8 s in."""
    part = samples[int(0.1 * RATE_HZ) : int(0.8 * RATE_HZ)]
    if len(part) < 4000:
        part = samples[: int(0.5 * RATE_HZ)]
    period = RATE_HZ / (440 * 2 ** ((midi - 69) / 12))
    spectrum = np.fft.rfft(part * np.hanning(len(part)), 1 << 17)
    freqs = np.arange(len(spectrum)) * RATE_HZ / (1 << 17)
    power = np.abs(spectrum) ** 2 * (freqs < 3000)
    told = power > power.max() * 1e-5  # the rest changes nothing but the time it takes
    power, freqs = power[told], freqs[told]
    best, best_cents = -1e18, 0.0
    for cents in np.arange(-70, 70.5, 0.5):
        tau = period * 2 ** (-cents / 1200)
        # many periods later, for resolution; stiffness hardly matters at the low partials that carry the power
        score = sum(float(np.sum(power * np.cos(2 * np.pi * freqs * tau * m / RATE_HZ))) for m in (1, 2, 4, 8))
        if score > best:
            best, best_cents = score, cents
    return best_cents


def cut(samples):
    """From the attack (first sample over a tenth of the early peak), at most MAX_SEC, peak 1, faded at the end."""
    head = np.abs(samples[: int(0.15 * RATE_HZ)])
    first = int(np.argmax(head > head.max() / 10))
    part = samples[max(0, first - 44) : max(0, first - 44) + int(MAX_SEC * RATE_HZ)].astype(np.float64)
    fade = min(len(part), int(0.06 * RATE_HZ))
    part[-fade:] *= np.linspace(1, 0, fade)
    part[:22] *= np.linspace(0, 1, 22)
    return part / np.abs(part).max()


def louder_later_db(part):
    """How much louder, in dB, a note of cut() is after its first quarter of a second than in its first 0.2 s: 20 ms steps, means of three."""
    step = RATE_HZ // 50
    level = np.sqrt((part[: len(part) // step * step].reshape(-1, step) ** 2).mean(1)) + 1e-5
    level = 20 * np.log10(np.convolve(level, np.ones(3) / 3, "same"))
    return level[12:].max(initial=-100.0) - level[:10].max()


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--notes", type=Path, required=True)
    ap.add_argument("--freepats", type=Path)
    ap.add_argument("--out", type=Path, required=True)
    args = ap.parse_args()
    rows, chunks, dropped = [], [], []

    def add(guitar, midi, samples, string=0, fret=-1):
        part = cut(samples)
        if louder_later_db(part) > STRUCK_AGAIN_DB:
            dropped.append((guitar, int(midi)))
            return
        # Drop a tail more than 56 dB under the peak: nothing to hear, and the file must travel.
        level = np.sqrt(np.convolve(part**2, np.ones(1024) / 1024, "same"))
        last = len(part) - int(np.argmax(level[::-1] > 10 ** (-56 / 20)))
        part = part[:last]
        rows.append((guitar, int(midi), cents_off(part, midi), string, fret, len(part)))
        chunks.append(np.round(part * 32000).astype(np.int16))

    notes = json.loads((args.notes / "index.json").read_text())
    with ThreadPool(8) as pool:
        sounds = pool.map(decode_ogg, [args.notes / note["file"] for note in notes])
    for note, sound in zip(notes, sounds):
        add(note["guitar"], note["midi"], sound, note.get("string", 0), note.get("fret", -1))
    if args.freepats:
        for guitar, (file, places) in FREEPATS.items():
            for idx, (midi, samples) in enumerate(read_pat(args.freepats / file)):
                string, fret = places[idx] if places else (0, -1)
                add(guitar, round(midi), samples, string, fret)
    lens = np.array([r[5] for r in rows], np.int64)
    guitars = sorted({r[0] for r in rows})
    np.savez(
        args.out,
        samples=np.concatenate(chunks),
        start=np.concatenate([[0], np.cumsum(lens)[:-1]]),
        length=lens,
        guitar=np.array([guitars.index(r[0]) for r in rows]),
        midi=np.array([r[1] for r in rows]),
        cents=np.array([r[2] for r in rows], np.float32),
        string=np.array([r[3] for r in rows]),
        fret=np.array([r[4] for r in rows]),
        guitars=np.array(guitars),
    )
    print(len(rows), "notes", f"{lens.sum() / RATE_HZ:.0f} s;", "struck again, left out:", dropped)
    for g in guitars:
        cents = [r[2] for r in rows if r[0] == g]
        print(f"{g:18s} {len(cents):4d} notes, cents {np.min(cents):6.1f} {np.median(cents):6.1f} {np.max(cents):6.1f}")


if __name__ == "__main__":
    main()
