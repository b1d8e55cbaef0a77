"""Events to sound, on the GPU: gather from the bank, envelope, mix; then body, room, colour, noise; and the targets.

The mixing loop has two forms of the same sum: a Triton kernel, and plain tensor operations where Triton is absent.
"""

import math

import numpy as np
import torch

from events import ENV_HOP, LOWEST_MIDI, RATE_HZ, BankIndex
from features import HOP
from pack import unpack
from sounds import make_distractors
from synth import synth_bank

try:
    import triton
    import triton.language as tl
except ImportError:  # CPU
    triton = None

PITCHES = 53
FFT_LEN = 5 << 15  # 7.4 s: a clip and 1.5 s of room; what rings longer wraps round, far down
NOISE_LEN = 1 << 17
ACOUSTIC = {"archtop-mic", "spanish-nylon", "steel-dreadnought", "steel-generative", "freepats-nylon", "freepats-steel"}

if triton is not None:

    @triton.jit
    def _mix_kernel(bank, table, out, clip_len, n_blocks, F: tl.constexpr, BLOCK: tl.constexpr):
        event = tl.program_id(0)
        block = tl.program_id(1)
        p = table + event * F
        clip = tl.load(p + 0).to(tl.int64)
        start = tl.load(p + 1).to(tl.int64)
        src_len = tl.load(p + 2).to(tl.float32)
        onset = tl.load(p + 3).to(tl.int32)
        stop = tl.load(p + 4).to(tl.float32)
        fade = tl.load(p + 5).to(tl.float32)
        ratio = tl.load(p + 6).to(tl.float32)
        gain = tl.load(p + 7).to(tl.float32)
        skip = tl.load(p + 8).to(tl.float32)
        fadein = tl.load(p + 9).to(tl.float32)
        comb_delay = tl.load(p + 10).to(tl.float32)
        comb_depth = tl.load(p + 11).to(tl.float32)
        dark = tl.load(p + 12).to(tl.float32)
        decay = tl.load(p + 13).to(tl.float32)
        beat = tl.load(p + 14).to(tl.float32)
        beat_rate = tl.load(p + 15).to(tl.float32)
        beat_phase = tl.load(p + 16).to(tl.float32)
        pair = tl.load(p + 17).to(tl.float32)
        pair_shift = tl.load(p + 18).to(tl.float32)
        first = tl.maximum(0, -onset)
        last = tl.minimum((stop + fade).to(tl.int32), clip_len - onset)
        begin = first + block * BLOCK
        if begin < last:
            k = begin + tl.arange(0, BLOCK)
            live = k < last
            t = k.to(tl.float32)
            acc = tl.zeros([BLOCK], tl.float32)
            for tap in tl.static_range(4):
                faster = ratio
                if tap == 0:
                    back = 0.0
                    w = 1.0
                elif tap == 1:
                    back = 1.0
                    w = dark
                elif tap == 2:
                    back = comb_delay
                    w = -comb_depth
                else:
                    back = 0.0
                    w = pair
                    faster = ratio * (1.0 + pair_shift)
                pos = (t - back) * faster + skip
                i = tl.floor(pos)
                frac = pos - i
                ok = live & (pos >= 0) & (pos < src_len - 1) & (w != 0.0)
                ii = i.to(tl.int64)
                a = tl.load(bank + start + ii, mask=ok, other=0.0).to(tl.float32)
                b = tl.load(bank + start + ii + 1, mask=ok, other=0.0).to(tl.float32)
                acc += w * (a + frac * (b - a))
            end = tl.minimum(tl.maximum((t - stop) / fade, 0.0), 1.0)
            env = gain / (1.0 + pair) * tl.exp(-decay * t) * tl.minimum(t / fadein, 1.0) * (0.5 + 0.5 * tl.cos(3.14159265 * end))
            env *= 1.0 - 0.5 * beat * (1.0 - tl.cos(beat_rate * t + beat_phase))
            tl.atomic_add(out + clip * clip_len + onset + k, acc * env, mask=live)


class Bank:
    """All sounds on the device, at twice the rate (float16), with what the player must know of them (`index`)."""

    def __init__(self, file, device, seed, synth_guitars=40, leave_out=()):
        notes = unpack(file)
        names = [str(g) for g in notes["guitars"]]
        sounds, meta = [], []  # meta: guitar name, midi, cents, string
        for i in range(len(notes["midi"])):
            name = names[notes["guitar"][i]]
            x = notes["samples"][notes["start"][i] : notes["start"][i] + notes["length"][i]].astype(np.float32) / 32768
            sounds.append(x)
            meta.append((name, int(notes["midi"][i]), float(notes["cents"][i]), int(notes["string"][i])))
        if synth_guitars:
            rows, made = synth_bank(seed, synth_guitars, device)
            made = made.cpu().numpy()
            for r, x in zip(rows, made):
                sounds.append(x)
                meta.append((f"synth-{r['guitar']}", r["midi"], r["cents"], r["string"]))
        distractors = make_distractors(seed)
        for kind, x in distractors:
            sounds.append(x)
            meta.append((kind, 0, 0.0, 0))
        kinds = {k for k, _ in distractors}
        guitars = sorted({m[0] for m in meta} - kinds)
        group = {g: "acoustic" if g in ACOUSTIC else "synth" if g.startswith("synth") else "electric" for g in guitars}
        # Levels matched over the first 0.3 s; envelopes of 20 ms steps, dB under the loudest.
        env_db = []
        for k, x in enumerate(sounds):
            x = x * (0.1 / (np.sqrt(np.mean(x[:6615] ** 2)) + 1e-6))
            n = len(x) // ENV_HOP + 1
            level = np.sqrt(np.mean(np.pad(x, (0, n * ENV_HOP - len(x))).reshape(n, ENV_HOP) ** 2, 1)) + 1e-7
            env_db.append(20 * np.log10(level / level.max()))
            sounds[k] = x
        length = np.array([len(x) for x in sounds])
        self.index = BankIndex(
            np.array([m[1] for m in meta]), np.array([m[2] for m in meta]), np.array([m[3] for m in meta]),
            np.array([guitars.index(m[0]) if m[0] in guitars else -1 for m in meta]), env_db, None, length,
            [(g, group[g]) for g in guitars],
        )
        self.index.distractors = {k: [i for i, m in enumerate(meta) if m[0] == k] for k in kinds}
        self.index.real_guitars = [k for k, g in enumerate(guitars) if group[g] != "synth" and g not in leave_out]
        self.guitars, self.group = guitars, group
        self.device = device
        up = torch.zeros(int(length.sum()) * 2 + 64, dtype=torch.float16, device=device)
        start = np.concatenate([[0], np.cumsum(length)[:-1]])
        for at, x in zip(start, sounds):  # doubled in rate through the spectrum, padded against wrap-around
            n = 1 << int(len(x) + 256 - 1).bit_length()
            spectrum = torch.fft.rfft(torch.tensor(x, device=device, dtype=torch.float32), n=n)
            double = torch.zeros(n + 1, dtype=spectrum.dtype, device=device)
            double[: n // 2 + 1] = spectrum
            up[2 * at : 2 * at + 2 * len(x)] = (torch.fft.irfft(double, n=2 * n) * 2)[: 2 * len(x)].half()
        self.samples, self.start, self.length = up, start * 2, length * 2

    def params(self, ev):
        """Event rows as the kernels want them (float32): positions at the doubled rate. Start indices need more than a
        float32's 24 bits, so they travel as float64 and are split in the plain form."""
        src = ev[:, 1].astype(np.int64)
        p = np.empty((len(ev), 19))
        p[:, 0] = ev[:, 0]
        p[:, 1] = self.start[src]
        p[:, 2] = self.length[src]
        p[:, 3:6] = ev[:, 2:5]
        p[:, 6] = ev[:, 5] * 2
        p[:, 7] = ev[:, 6]
        p[:, 8] = ev[:, 7] * 2
        p[:, 9:19] = ev[:, 8:18]
        return p


def mix_plain(bank, p, clips, clip_len):
    """p: float64 (events, 19) on the device, sorted by length."""
    out = torch.zeros(clips * clip_len, device=p.device)
    f = p.float()
    step = 64
    for at in range(0, len(p), step):
        q, r = f[at : at + step, :, None], p[at : at + step, 1].long()[:, None]
        onset = p[at : at + step, 3].long()[:, None]
        first = (-onset).clamp_min(0)
        last = torch.minimum((q[:, 4] + q[:, 5]).long(), clip_len - onset)
        width = int((last - first).max())
        if width <= 0:
            continue
        k = first + torch.arange(width, device=p.device)
        live = k < last
        t = k.float()
        acc = torch.zeros_like(t)
        for back, w, faster in ((0.0, 1.0, 1.0), (1.0, q[:, 12], 1.0), (q[:, 10], -q[:, 11], 1.0), (0.0, q[:, 17], 1 + q[:, 18])):
            pos = (t - back) * q[:, 6] * faster + q[:, 8]
            ok = live & (pos >= 0) & (pos < q[:, 2] - 1)
            i = pos.floor()
            idx = torch.where(ok, i.long() + r, 0)
            a, b = bank[idx].float(), bank[idx + 1].float()
            acc += torch.where(ok, w * (a + (pos - i) * (b - a)), 0)
        end = ((t - q[:, 4]) / q[:, 5]).clamp(0, 1)
        acc *= q[:, 7] / (1 + q[:, 17]) * torch.exp(-q[:, 13] * t) * (t / q[:, 9]).clamp(max=1) * (0.5 + 0.5 * torch.cos(math.pi * end))
        acc *= 1 - 0.5 * q[:, 14] * (1 - torch.cos(q[:, 15] * t + q[:, 16]))
        where = (p[at : at + step, 0].long()[:, None] * clip_len + onset + k)[live]
        out.index_add_(0, where, acc[live])
    return out.view(clips, clip_len)


def mix_triton(bank, p, clips, clip_len):
    out = torch.zeros(clips, clip_len, device=p.device)
    block = 1024
    # float64 parameters keep start indices exact; the kernel casts the rest down by itself.
    _mix_kernel_launch(bank, p, out, clip_len, block)
    return out


def _mix_kernel_launch(bank, p, out, clip_len, block):
    blocks = (clip_len + block - 1) // block
    _mix_kernel[(len(p), blocks)](bank, p, out, clip_len, blocks, F=19, BLOCK=block)


class Colours:
    """Bodies and rooms as spectra of FFT_LEN, drawn once; and everything else that happens to a clip after the mix."""

    def __init__(self, device, seed, bodies=256, rooms=192):
        g = torch.Generator().manual_seed(seed)
        self.device = device
        self.body = torch.stack([torch.fft.rfft(self._body(g).to(device), n=FFT_LEN).to(torch.complex64) for _ in range(bodies)])
        self.room, self.room_n = [], rooms
        made = [self._room(g) for _ in range(rooms)]
        self.room = torch.stack([torch.fft.rfft(r.to(device), n=FFT_LEN) for r in made])
        self.freqs = torch.fft.rfftfreq(FFT_LEN, 1 / RATE_HZ).to(device)
        at = (torch.log2(self.freqs.clamp_min(20) / 20) / 10.2 * 8).clamp(0, 7.999)
        frac = at - at.floor()
        frac = frac * frac * (3 - 2 * frac)
        knots = torch.zeros(9, len(at), device=device)  # weights of nine knots over log frequency
        knots.scatter_(0, at.long()[None], (1 - frac)[None])
        knots.scatter_(0, at.long()[None] + 1, frac[None])
        self.knots = knots
        f = torch.fft.rfftfreq(NOISE_LEN, 1 / RATE_HZ).to(device)[None].clamp_min(30)
        self.noise_log_f = torch.log(f / 1000)

    @staticmethod
    def _body(g):
        """Impulse answer of a guitar body: the air and top modes, then ever denser modes to 6 kHz; energy 1."""
        def uni(a, b, n=1):
            return a + (b - a) * torch.rand(n, generator=g)
        count = int(uni(40, 150))
        low = torch.tensor([float(uni(88, 130)), float(uni(165, 235)), float(uni(220, 300)), float(uni(300, 480))])
        f = torch.cat([low, torch.exp(uni(math.log(330), math.log(6500), count))])
        q = torch.cat([uni(8, 30, 4), uni(12, 60, count)])
        tilt = float(uni(-1.2, 0.1))
        amp = torch.cat([uni(0.2, 1.4, 4), torch.randn(count, generator=g) * 0.6 * (f[4:] / 500) ** tilt])
        t = torch.arange(6000) / RATE_HZ
        ir = (amp[:, None] * torch.exp(-math.pi * f[:, None] / q[:, None] * t) * torch.sin(2 * math.pi * f[:, None] * t)).sum(0)
        return ir / ir.pow(2).sum().sqrt()

    @staticmethod
    def _room(g):
        t60 = float(0.12 * (1.3 / 0.12) ** torch.rand(1, generator=g))
        n = int(min(2.0, t60 * 1.1) * RATE_HZ)
        t = torch.arange(n) / RATE_HZ
        noise = torch.randn(n, generator=g)
        spectrum = torch.fft.rfft(noise)
        f = torch.fft.rfftfreq(n, 1 / RATE_HZ)
        corner = 1500 + 6000 * float(torch.rand(1, generator=g))
        dull = torch.fft.irfft(spectrum / torch.sqrt(1 + (f / corner) ** 2), n=n)
        fast = t60 * (0.4 + 0.5 * float(torch.rand(1, generator=g)))  # treble dies sooner
        ir = 0.5 * noise * torch.exp(-6.9 * t / fast) + dull * torch.exp(-6.9 * t / t60)
        pre = int(float(torch.rand(1, generator=g)) * 0.02 * RATE_HZ)
        ir = torch.cat([torch.zeros(pre + 20), ir])
        for _ in range(6):  # early reflections
            at = int(20 + float(torch.rand(1, generator=g)) * 0.04 * RATE_HZ)
            if at < len(ir):
                ir[at] += float(torch.randn(1, generator=g)) * ir.abs().max() * 1.5
        return ir / ir.pow(2).sum().sqrt()

    def smooth(self, clips, depth_db):
        """Random smooth gain over log frequency, (clips, bins)."""
        return torch.exp((torch.randn(clips, 9, device=self.device) * (depth_db * math.log(10) / 20)) @ self.knots)

    def __call__(self, x, groups):
        """x (clips, samples) -> the same with body, room, colour and noise; groups 0 acoustic, 1 electric, 2 synthetic."""
        b, n = x.shape
        d = self.device

        def rand(*shape):
            return torch.rand(*shape, device=d)

        spectrum = torch.fft.rfft(x, n=FFT_LEN)
        body = self.body[torch.randint(len(self.body), (b,), device=d)]
        # Electrics and synthesis are given a body; acoustics, which have one, sometimes a little of another.
        share = torch.where(groups == 0, rand(b) * 0.5 * (rand(b) < 0.5), torch.where(groups == 1, rand(b) * (rand(b) < 0.75), 0.35 + 0.65 * rand(b)))
        direct = (1 - share) + 0.15 * share
        shape = direct[:, None] + share[:, None] * body * 1.5
        wet_db = -28 + 28 * rand(b)
        wet = 10 ** (wet_db / 20) * (rand(b) < 0.65)
        shape = shape * (1 + wet[:, None] * self.room[torch.randint(self.room_n, (b,), device=d)])
        shape = shape * self.smooth(b, 3.5)
        phone = rand(b) < 0.12  # a phone: no bass under 100…220 Hz, no treble over 4.5…8 kHz
        high_pass = torch.where(phone, 100 + 120 * rand(b), 15 + 60 * rand(b))[:, None]
        low_pass = torch.where(phone, 4500 + 4000 * rand(b), 7000 + 12000 * rand(b))[:, None]
        ratio = self.freqs[None] / high_pass
        power = ratio.square()
        shape = shape * (power / torch.sqrt(1 + power.square())) / torch.sqrt(1 + (self.freqs[None] / low_pass).square().square().square())
        y = torch.fft.irfft(spectrum * shape, n=FFT_LEN)[:, :n]
        level = y.pow(2).mean(1, keepdim=True).sqrt().clamp_min(1e-4)
        y = y / level * 0.1
        drive = torch.where(rand(b, 1) < 0.2, 1 + 4 * rand(b, 1), 0.05)
        y = torch.tanh(y * drive) / drive
        snr_db = torch.where(rand(b) < 0.35, 15 + 20 * rand(b), 30 + 40 * rand(b))
        white = torch.view_as_complex(torch.randn(b, NOISE_LEN // 2 + 1, 2, device=d))
        noise = torch.fft.irfft(white * torch.exp(-self.noise_log_f * rand(b, 1)), n=NOISE_LEN)[:, :n]
        noise = noise / noise.pow(2).mean(1, keepdim=True).sqrt()
        y = y + noise * (0.1 * 10 ** (-snr_db / 20))[:, None]
        t = torch.arange(n, device=d) / RATE_HZ
        mains = torch.where(rand(b, 1) < 0.5, 50.0, 60.0)
        humming = (torch.rand(b) < 0.15).nonzero()[:, 0].to(d)
        if len(humming):
            h = len(humming)
            mains = mains[humming]
            hum = sum(rand(h, 1) ** 2 * torch.sin(2 * math.pi * mains * k * t + 6 * rand(h, 1)) for k in (1, 2, 3, 4, 6, 8))
            y[humming] += hum * (0.1 * 10 ** ((-22 - 30 * rand(h, 1)) / 20))
        return y


def make_targets(lab, clips, frames, device):
    """Label rows -> onset (clips, frames, 53), 1 at the onset falling to 0 at 1.75 frames from it; sounding (same); string
    (same, int64): 0 unknown, else 1…6, on the onset's frame and the two after it."""
    onset = torch.zeros(clips * frames * PITCHES, device=device)
    string = torch.zeros(clips * frames * PITCHES, dtype=torch.int64, device=device)
    edge = torch.zeros(clips, frames + 1, PITCHES, device=device)
    if len(lab):
        L = torch.tensor(lab, device=device)
        clip, pitch = L[:, 0].long(), L[:, 1].long()
        at, end = L[:, 2] / HOP, L[:, 3] / HOP
        near = at.round().long()
        for off in (-1, 0, 1, 2):
            k = near + off
            ok = (k >= 0) & (k < frames)
            idx = ((clip * frames + k) * PITCHES + pitch)[ok]
            if off < 2:
                onset.scatter_reduce_(0, idx, (1 - ((k - at).abs() - 0.25).clamp_min(0) / 1.5).clamp(0, 1).float()[ok], "amax")
            if off >= 0:
                string[idx] = L[:, 4].long()[ok]
        first = near.clamp(0, frames)
        last = end.round().long().clamp(0, frames)
        last = torch.maximum(last, first)
        flat = edge.view(-1)
        one = torch.ones(len(L), device=device)
        flat.index_add_(0, (clip * (frames + 1) + first) * PITCHES + pitch, one)
        flat.index_add_(0, (clip * (frames + 1) + last) * PITCHES + pitch, -one)
    sounding = (edge.cumsum(1)[:, :frames] > 0.5).float()
    return onset.view(clips, frames, PITCHES), sounding, string.view(clips, frames, PITCHES)
