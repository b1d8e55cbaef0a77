"""Trains the listener. One GPU (or the CPU, to try it out); worker processes generate the playing. Under torchrun with N processes,
N GPUs share every step: each its own clips, the mean of the gradients.

    python3 train.py --bank bank.packed.npz --out DIR --minutes 8 [--name main] [--leave-out GUITAR ...] [--synth 40] ...

Writes DIR/NAME.pt (running mean of the weights, configuration), DIR/NAME.state.pt (all that going on needs) and DIR/NAME.log
(one JSON a line). Going on: --resume DIR/NAME.state.pt --done MINUTES --total MINUTES, the same schedule in several sittings.
"""

import argparse
import json
import math
import multiprocessing as mp
import os
import pickle
import time

import numpy as np
import torch
import torch.distributed as dist
import torch.nn.functional as F

os.environ.setdefault("OMP_NUM_THREADS", "1")
CLIP_FRAMES = 512
CLIP_LEN = CLIP_FRAMES * 256 - 256  # frames 0…511


def worker(queue, index_bytes, seed, step, clips, weights):
    import events

    os.nice(5)
    index = pickle.loads(index_bytes)
    k = seed
    while True:
        queue.put((k, *events.make_batch(k, index, clips, CLIP_LEN, weights)))
        k += step


def guitar_weights(bank, leave_out, synth_share, electric_share, only=None):
    """How often each guitar plays. Shares of groups; within a group, guitars of more notes somewhat more often."""
    rows = []
    for k, (name, group) in enumerate(bank.index.guitars):
        if only is not None:
            if name in only:
                rows.append((k, 1.0, group))
            continue
        if name in leave_out:
            continue
        n = len(bank.index.of_guitar[k])
        rows.append((k, 1.0 if group == "synth" else math.sqrt(n) + 3, group))
    if only is not None:
        return [(k, w) for k, w, _ in rows]
    share = {"synth": synth_share, "electric": electric_share, "acoustic": 1 - synth_share - electric_share}
    total = {g: sum(w for _, w, gg in rows if gg == g) for g in share}
    return [(k, w / total[g] * share[g]) for k, w, g in rows if share[g] > 0]


def pick(onset, threshold, reach=3):
    """Local maxima over ±reach frames above the threshold: index arrays (clip, frame, pitch) and refined frame."""
    best = F.max_pool2d(onset[:, None], (2 * reach + 1, 1), 1, (reach, 0))[:, 0]
    clip, frame, pitch = ((onset == best) & (onset > threshold)).nonzero(as_tuple=True)
    return clip.cpu().numpy(), frame.cpu().numpy(), pitch.cpu().numpy(), onset[clip, frame, pitch].cpu().numpy()


def score(picked, labels, frames, tolerance=0.05 * 22050 / 256):
    """Greedy in time, by clip and pitch: hits, picked, true; onsets within 12 frames of the clip's ends don't count."""
    clip, frame, pitch, value = picked
    by = {}
    for c, p, t in zip(labels[:, 0], labels[:, 1], labels[:, 2] / 256):
        by.setdefault((int(c), int(p)), []).append(t)
    hits, said, kinds = 0, 0, {"restruck": 0, "octave": 0, "twelfth": 0, "other": 0}
    used = {k: [False] * len(v) for k, v in by.items()}
    inner = lambda t: 12 <= t < frames - 12
    for c, t, p, v in sorted(zip(clip, frame, pitch, value), key=lambda r: -r[3]):
        if not inner(t):
            continue
        said += 1
        times = by.get((c, p), [])
        near = [(abs(x - t), i) for i, x in enumerate(times) if abs(x - t) <= tolerance and not used[(c, p)][i]]
        if near:
            used[(c, p)][min(near)[1]] = True
            hits += 1
        elif any(x < t for x in times):
            kinds["restruck"] += 1
        elif any(abs(x - t) <= tolerance for x in by.get((c, p - 12), [])):
            kinds["octave"] += 1
        elif any(abs(x - t) <= tolerance for x in by.get((c, p - 19), [])):
            kinds["twelfth"] += 1
        else:
            kinds["other"] += 1
    true = sum(1 for v in by.values() for x in v if inner(x))
    return hits, said, true, kinds


def doubtful(t_onset, t_sounding):
    """1 where errors are made: a pitch that rings already while anything is struck, or an octave, twelfth or double octave above
    what is struck; whether it is struck as well or not."""
    struck = F.max_pool1d(t_onset.amax(2, keepdim=True).transpose(1, 2), 5, 1, 2).transpose(1, 2)
    rang = F.pad(t_sounding, (0, 0, 4, 0))[:, : t_sounding.shape[1]]
    here = F.max_pool2d(t_onset[:, None], (5, 1), 1, (2, 0))[:, 0]
    above = sum(F.pad(here, (up, 0))[..., : here.shape[2]] for up in (12, 19, 24))
    return ((rang * struck + above) > 0.5).float()


class Trainer:
    def __init__(self, args):
        from features import Features, level_gain
        from net import Net
        from render import Bank, Colours, make_targets, mix_plain, mix_triton, triton

        self.args, self.t0 = args, time.time()
        self.rank, self.world = int(os.environ.get("LOCAL_RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
        self.level_gain, self.make_targets = level_gain, make_targets
        self.device = torch.device("cuda", self.rank) if torch.cuda.is_available() else torch.device("cpu")
        if self.device.type == "cuda":
            torch.cuda.set_device(self.device)
        if self.world > 1:
            dist.init_process_group("nccl" if self.device.type == "cuda" else "gloo")
        torch.manual_seed(args.seed)
        torch.backends.cuda.matmul.allow_tf32 = True
        torch.backends.cudnn.allow_tf32 = True
        torch.backends.cudnn.benchmark = True
        self.bank = Bank(args.bank, self.device, args.seed, args.synth, args.leave_out)
        self.log(event="bank", guitars=len(self.bank.guitars), samples=int(self.bank.length.sum() // 2))
        self.colours = Colours(self.device, args.seed)
        self.mix = mix_triton if triton is not None and self.device.type == "cuda" and not args.plain else mix_plain
        self.features = Features().to(self.device)
        self.bank.index.every_string, self.bank.index.rich = args.strings == "all", args.rich
        self.net = Net(
            step=args.step, near=args.near, narrow=args.narrow, wide=args.wide, mid=args.mid, dilations=tuple(args.dilations),
            exchange=not args.no_exchange, context=not args.no_context,
        ).to(self.device)
        self.amp = self.device.type == "cuda"
        if self.amp:
            self.net = self.net.to(memory_format=torch.channels_last)
        self.state = torch.load(args.resume, map_location=self.device, weights_only=False) if args.resume else None
        if self.state:
            self.net.load_state_dict(self.state["net"])
        self.mean = self.state["mean"] if self.state else {k: v.detach().clone().float() for k, v in self.net.state_dict().items()}
        self.run_net = torch.compile(self.net) if args.compile and self.amp else self.net

    def log(self, **row):
        if self.rank > 0:
            return
        row = dict(row, sec=round(time.time() - self.t0, 1))
        line = json.dumps(row)
        print(self.args.name, line, flush=True)
        with open(os.path.join(self.args.out, self.args.name + ".log"), "a") as f:
            f.write(line + "\n")

    def batch(self, ev, lab, groups, clips, hard=True):
        d = self.device
        p = torch.tensor(self.bank.params(ev), device=d)
        x = self.mix(self.bank.samples, p, clips, CLIP_LEN)
        if hard:
            x = self.colours(x, torch.tensor(groups, device=d))
        x = x * self.level_gain(x)
        if hard:  # a quiet passage of a louder take, or the other way round
            x = x * 10 ** ((torch.randn(clips, 1, device=d) * 4 - 2).clamp(-16, 8) / 20)
        return self.features(x), self.make_targets(lab, clips, CLIP_FRAMES, d)

    def loss(self, out, targets):
        args = self.args
        onset, sounding, string = (o.float() for o in out)
        t_onset, t_sounding, t_string = targets
        weight = 1 + (args.onset_weight - 1) * t_onset
        bce = F.binary_cross_entropy_with_logits(onset, t_onset, reduction="none")
        if args.focal > 0:
            p = torch.sigmoid(onset).detach()
            weight = weight * (1 + args.focal * (p - t_onset).abs())
        if args.doubtful > 0:
            weight = weight * (1 + args.doubtful * doubtful(t_onset, t_sounding))
        a = (bce * weight).mean()
        b = F.binary_cross_entropy_with_logits(sounding, t_sounding)
        known = t_string > 0
        ce = F.cross_entropy(string.reshape(-1, 6), (t_string - 1).clamp_min(0).reshape(-1), reduction="none")
        c = (ce * known.reshape(-1)).sum() / known.sum().clamp_min(1)
        return 10 * a + b + 0.03 * c, a, b, c

    def evaluate(self, weights, tag, batches, clips=32, seed=10**9, thresholds=(-3.0, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5)):
        from events import make_batch

        from net import Net

        net = Net(**self.net.config).to(self.device)
        net.load_state_dict(self.mean)
        net.eval()
        self.bank.index.every_string, self.bank.index.rich = True, False
        rng_state = torch.get_rng_state(), (torch.cuda.get_rng_state() if self.amp else None)
        for hard in (False, True):
            sums = {t: np.zeros(3) for t in thresholds}
            kinds, right, known = {t: {} for t in thresholds}, 0, 0
            torch.manual_seed(seed)
            for b in range(batches):
                ev, lab, groups = make_batch(seed + b, self.bank.index, clips, CLIP_LEN, weights)
                feats, (_, _, t_string) = self.batch(ev, lab, groups, clips, hard)
                with torch.no_grad(), torch.autocast(self.device.type, torch.bfloat16, enabled=self.amp):
                    onset, _, string = net(feats)
                onset = onset.float()
                is_known = t_string > 0
                known += int(is_known.sum())
                right += int(((string.float().argmax(-1) + 1 == t_string) & is_known).sum())
                plucked = lab[lab[:, 5] > 0]
                for t in thresholds:
                    h, s, n, k = score(pick(onset, t), plucked, CLIP_FRAMES)
                    sums[t] += (h, s, n)
                    for name, v in k.items():
                        kinds[t][name] = kinds[t].get(name, 0) + v
            f1 = {t: 2 * v[0] / max(1, v[1] + v[2]) for t, v in sums.items()}
            best = max(f1, key=f1.get)
            self.log(event="eval", tag=tag, hard=hard, f1=round(f1[best], 4), at=best, p=round(sums[best][0] / max(1, sums[best][1]), 4),
                     r=round(sums[best][0] / max(1, sums[best][2]), 4), all={str(t): round(v, 4) for t, v in f1.items()}, kinds=kinds[best],
                     string=round(right / known, 3) if known else None)
        torch.set_rng_state(rng_state[0])
        if self.amp:
            torch.cuda.set_rng_state(rng_state[1])

    def save(self):
        if self.rank > 0:
            return
        path = os.path.join(self.args.out, self.args.name)
        torch.save(dict(mean=self.mean, config=self.net.config, args=vars(self.args)), path + ".pt")
        torch.save(dict(mean=self.mean, net=self.net.state_dict(), opt=self.opt.state_dict(), step=self.step), path + ".state.pt")

    def compile_now(self, weights):
        """Before the workers take the cores."""
        from events import make_batch

        feats, targets = self.batch(*make_batch(0, self.bank.index, self.args.clips, CLIP_LEN, weights), self.args.clips)
        state = {k: v.clone() for k, v in self.net.state_dict().items()}
        with torch.autocast(self.device.type, torch.bfloat16):
            out = self.run_net(feats.to(memory_format=torch.channels_last))
        self.loss(out, targets)[0].backward()
        self.net.zero_grad(set_to_none=True)
        self.net.load_state_dict(state)
        self.log(event="compiled")

    def train(self):
        args = self.args
        weights = guitar_weights(self.bank, args.leave_out, args.synth_share if args.synth else 0.0, args.electric_share)
        if self.run_net is not self.net:
            self.compile_now(weights)
        index_bytes = pickle.dumps(self.bank.index)
        ctx = mp.get_context("spawn")
        queue = ctx.Queue(args.workers * 3)
        procs = [
            ctx.Process(target=worker, args=(queue, index_bytes, args.seed * 1000003 + w, args.workers * self.world, args.clips, weights), daemon=True)
            for w in range(self.rank, args.workers * self.world, self.world)
        ]
        for p in procs:
            p.start()
        decay = [p for p in self.net.parameters() if p.dim() > 1]
        plain = [p for p in self.net.parameters() if p.dim() <= 1]
        opt = torch.optim.AdamW([dict(params=decay, weight_decay=args.decay), dict(params=plain, weight_decay=0.0)], lr=args.rate, betas=(0.9, 0.98))
        self.opt, first = opt, 0
        if self.state:
            opt.load_state_dict(self.state["opt"])
            first = self.state["step"]
        begin, step, waited, last = time.time(), first, 0.0, time.time()
        limit = (args.total or args.minutes) * 60
        since = first
        acc = torch.zeros(4, device=self.device)
        torch.manual_seed(args.seed + 1000 * self.rank + first)
        grads = [p for p in self.net.parameters()]
        while True:
            if self.world == 1 or (step - first) % 20 == 0:
                here = time.time() - begin
                gone = step / args.steps if args.steps else (args.done * 60 + here) / max(limit, 1e-9)
                if self.world > 1:  # one clock for all
                    clock = torch.tensor([here, gone], device=self.device)
                    dist.broadcast(clock, 0)
                    here, gone = clock.tolist()
            if step - first > 20 and (here >= args.minutes * 60 or gone >= 1):
                break
            self.step = step
            rate = args.rate * min(1, (step + 1) / 300) * (0.5 + 0.5 * math.cos(math.pi * gone)) + 1e-6
            for g in opt.param_groups:
                g["lr"] = rate
            w0 = time.time()
            _, ev, lab, groups = queue.get()
            waited += time.time() - w0
            feats, targets = self.batch(ev, lab, groups, args.clips)
            with torch.autocast(self.device.type, torch.bfloat16, enabled=self.amp):
                if self.amp:
                    feats = feats.to(memory_format=torch.channels_last)
                out = self.run_net(feats)
            total, a, b, c = self.loss(out, targets)
            opt.zero_grad(set_to_none=True)
            total.backward()
            if self.world > 1:
                flat = torch.cat([p.grad.reshape(-1) for p in grads])
                dist.all_reduce(flat)
                torch._foreach_copy_([p.grad for p in grads], [g.view_as(p) for g, p in zip((flat / self.world).split([p.numel() for p in grads]), grads)])
            torch.nn.utils.clip_grad_norm_(self.net.parameters(), 1.0)
            opt.step()
            step += 1
            with torch.no_grad():
                acc += torch.stack([total, a, b, c])
                keep = min(args.mean_keep, 1 - 1 / (1 + step / 8))
                state = self.net.state_dict()
                names = [k for k, v in state.items() if v.is_floating_point()]
                torch._foreach_mul_([self.mean[k] for k in names], keep)
                torch._foreach_add_([self.mean[k] for k in names], [state[k].float() for k in names], alpha=1 - keep)
            if step - first == 20:  # what the first steps take is compiling
                torch.cuda.synchronize() if self.amp else None
                begin, last = time.time(), time.time()
            if step - first in (20, 100) or step % 500 == 0:
                done = max(1, step - since)
                since = step
                v = (acc / done).tolist()
                acc.zero_()
                self.log(event="step", step=step, rate=round(rate, 6), loss=[round(x, 5) for x in v], per_sec=round(done / (time.time() - last), 2), waited=round(waited, 1))
                last = time.time()
            if step % 1000 == 0:
                self.save()
        for p in procs:
            p.kill()
        if self.world > 1:
            dist.destroy_process_group()
        self.step = step
        self.log(event="trained", steps=step)
        self.save()
        for guitar in args.leave_out if self.rank == 0 else []:
            self.evaluate(guitar_weights(self.bank, [], 0, 0, only=[guitar]), "left out " + guitar, args.eval_batches)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--bank", required=True)
    ap.add_argument("--out", required=True)
    ap.add_argument("--name", default="main")
    ap.add_argument("--resume", default="")
    ap.add_argument("--minutes", type=float, default=8)
    ap.add_argument("--done", type=float, default=0)
    ap.add_argument("--total", type=float, default=0)
    ap.add_argument("--steps", type=int, default=0)
    ap.add_argument("--clips", type=int, default=32)
    ap.add_argument("--workers", type=int, default=14)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--rate", type=float, default=2e-3)
    ap.add_argument("--decay", type=float, default=0.01)
    ap.add_argument("--mean-keep", type=float, default=0.999)
    ap.add_argument("--onset-weight", type=float, default=2.0)
    ap.add_argument("--focal", type=float, default=0.0)
    ap.add_argument("--doubtful", type=float, default=0.0, help="how much more an error counts where it is easily made")
    ap.add_argument("--rich", action="store_true", help="with hard negatives in the playing: events.py says which")
    ap.add_argument("--eval-batches", type=int, default=3)
    ap.add_argument("--synth", type=int, default=40)
    ap.add_argument("--synth-share", type=float, default=0.15)
    ap.add_argument("--electric-share", type=float, default=0.3)
    ap.add_argument("--strings", choices=("all", "known"), default="all")
    ap.add_argument("--step", type=int, default=2)
    ap.add_argument("--mid", type=int, default=32)
    ap.add_argument("--near", type=int, default=16)
    ap.add_argument("--wide", type=int, default=48)
    ap.add_argument("--narrow", type=int, default=32)
    ap.add_argument("--dilations", type=int, nargs="+", default=[1, 2, 4, 8, 1, 2, 4, 1])
    ap.add_argument("--no-exchange", action="store_true")
    ap.add_argument("--no-context", action="store_true")
    ap.add_argument("--leave-out", nargs="*", default=[])
    ap.add_argument("--compile", action="store_true")
    ap.add_argument("--plain", action="store_true")
    args = ap.parse_args()
    os.makedirs(args.out, exist_ok=True)
    Trainer(args).train()


if __name__ == "__main__":
    main()
