"""Makes the bank of notes small enough to travel, and reads it back: 10 bits by block of 512, differences, LZMA.

Of the archtop every second take stays; electric notes are cut at 2.4 s.

    python3 pack.py bank.npz bank.packed.npz
"""

import lzma
import sys

import numpy as np

BITS, BLOCK = 10, 512
SHORT = {"electric-di", "hollowbody-black", "hollowbody-green", "strat-by-string", "freepats-clean", "freepats-jazz"}
SHORT_LEN = int(2.4 * 22050)


def _quantise(x):
    n = len(x) // BLOCK + 1
    padded = np.zeros(n * BLOCK, np.int32)
    padded[: len(x)] = x
    blocks = padded.reshape(n, BLOCK)
    peak = np.maximum(1, np.abs(blocks).max(1, keepdims=True))
    step = 2 ** np.maximum(0, np.ceil(np.log2(peak / (2 ** (BITS - 1) - 1)))).astype(np.int32)
    return np.clip(np.round(blocks / step).astype(np.int32) * step, -32767, 32767).reshape(-1)[: len(x)]


def pack(bank):
    names = bank["guitars"]
    keep, chunks, lens = [], [], []
    seen = {}
    for i in range(len(bank["midi"])):
        name = str(names[bank["guitar"][i]])
        if name == "archtop-mic":
            seen[bank["midi"][i]] = seen.get(bank["midi"][i], -1) + 1
            if seen[bank["midi"][i]] % 2:
                continue
        at = bank["start"][i]
        x = bank["samples"][at : at + bank["length"][i]].astype(np.int32)
        if name in SHORT and len(x) > SHORT_LEN:
            x = x[:SHORT_LEN].copy()
            x[-1300:] = x[-1300:] * np.linspace(1, 0, 1300)
        keep.append(i)
        lens.append(len(x))
        chunks.append(np.diff(_quantise(x), prepend=0).astype(np.int16))
    raw = np.concatenate(chunks).view(np.uint8).reshape(-1, 2)
    packed = lzma.compress(raw[:, 0].tobytes() + raw[:, 1].tobytes(), preset=3)
    out = {k: bank[k][keep] for k in ("guitar", "midi", "cents", "string", "fret")}
    return dict(out, length=np.array(lens), guitars=names, packed=np.frombuffer(packed, np.uint8))


def unpack(file):
    """dict of arrays; "samples" int16, notes one after another from "start"."""
    bank = dict(np.load(file))
    raw = np.frombuffer(lzma.decompress(bank.pop("packed").tobytes()), np.uint8).reshape(2, -1)
    diff = np.ascontiguousarray(raw.T).reshape(-1).view(np.int16)
    start = np.concatenate([[0], np.cumsum(bank["length"])[:-1]])
    samples = np.empty(len(diff), np.int16)
    for at, n in zip(start, bank["length"]):
        samples[at : at + n] = np.cumsum(diff[at : at + n].astype(np.int32)).astype(np.int16)
    return dict(bank, start=start, samples=samples)


if __name__ == "__main__":
    np.savez(sys.argv[2], **pack(dict(np.load(sys.argv[1]))))
