"""The network: features (batch, 2, frames, 264) -> logits of onset, sounding (batch, frames, 53) and string (batch, frames, 53, 6).

A stem on the bands, its second layer in steps of two frames; stride 3 to one row a semitone; then every pitch looks at the
rows from an octave below to three octaves above itself, where its partials lie; residual convolutions, ever wider in time,
among pitches; half-way the pitches look at their octaves and twelfths, above and below, to explain one by another; the mean
over all pitches is added in twice, so that a thump or a talking voice is seen as what it is. The heads give every frame of a
step its own outputs, so onsets stay as fine as the frames.

The wide look is a plain convolution 49 rows wide, over fewer channels; the octaves are two dilated ones: on a CPU they run at
full speed, where gathering chosen rows side by side cost more in copying than in arithmetic. Channels are multiples of 16 for
the same reason.
"""

import torch
import torch.nn as nn
import torch.nn.functional as F

PITCHES = 53
REACH_DOWN, REACH_UP = 12, 36
OCTAVE, TWELFTH = 12, 19


def conv(c_in, c_out, kernel, dilation=1, stride=(1, 1), pad=None):
    kt, kf = kernel
    pad = (dilation * (kt // 2), kf // 2) if pad is None else pad
    return nn.Sequential(
        nn.Conv2d(c_in, c_out, kernel, padding=pad, dilation=(dilation, 1), stride=stride, bias=False), nn.BatchNorm2d(c_out)
    )


class Block(nn.Module):
    def __init__(self, c, narrow, dilation):
        super().__init__()
        self.a = conv(c, narrow, (3, 3), dilation)
        self.b = conv(narrow, c, (1, 1))

    def forward(self, x):
        return F.relu(x + self.b(F.relu(self.a(x))))


class Net(nn.Module):
    """@param step frames to a step of the trunk; near: channels of the wide look; narrow: channels inside a block"""

    def __init__(self, step=2, stem=16, mid=32, near=16, wide=48, narrow=32, dilations=(1, 2, 4, 8, 1, 2, 4, 1), string_width=16, exchange=True, context=True):
        super().__init__()
        self.config = dict(
            step=step, stem=stem, mid=mid, near=near, wide=wide, narrow=narrow, dilations=list(dilations), string_width=string_width,
            exchange=exchange, context=context,
        )
        self.step = step
        self.s1 = conv(2, stem, (3, 5))
        self.s2 = conv(stem, mid, (5, 3), stride=(step, 1))
        self.s3 = conv(mid, mid, (3, 5), stride=(1, 3), pad=(1, 1))
        self.s4 = conv(mid, near, (1, 1))
        self.gather = conv(near, wide, (1, REACH_DOWN + REACH_UP + 1), pad=(0, 0))
        self.blocks = nn.ModuleList(Block(wide, narrow, d) for d in dilations)
        self.octaves = nn.Conv2d(wide, wide, (1, 5), padding=(0, 2 * OCTAVE), dilation=(1, OCTAVE)) if exchange else None
        self.twelfths = nn.Conv2d(wide, wide, (1, 3), padding=(0, TWELFTH), dilation=(1, TWELFTH)) if exchange else None
        self.context = nn.ModuleList(
            nn.Sequential(nn.Conv2d(wide, wide, (5, 1), padding=(2, 0)), nn.ReLU(), nn.Conv2d(wide, wide, 1)) for _ in range(2 if context else 0)
        )
        self.head = nn.Conv2d(wide, 2 * step, 1)
        self.string1 = conv(wide, string_width, (3, 3))
        self.string2 = nn.Conv2d(string_width, 6 * step, 1)
        nn.init.constant_(self.head.bias, -3.0)

    def each_frame(self, x, frames):
        """(batch, outputs x step, steps, 53) -> (batch, outputs, frames, 53)"""
        b, c, steps, p = x.shape
        x = x.reshape(b, c // self.step, self.step, -1, p).permute(0, 1, 3, 2, 4)
        return x.reshape(b, c // self.step, -1, p)[:, :, :frames].clone()  # views would trip torch.compile

    def forward(self, x):
        frames = x.shape[2]
        x = F.relu(self.s1(x))
        x = F.relu(self.s2(x))
        x = F.relu(self.s3(x))
        x = F.relu(self.s4(x))
        x = F.relu(self.gather(F.pad(x, (REACH_DOWN, PITCHES + REACH_UP - x.shape[3]))))
        half = len(self.blocks) // 2
        for k, block in enumerate(self.blocks):
            if k in (1, half + 1) and len(self.context):
                x = F.relu(x + self.context[0 if k == 1 else 1](x.mean(3, keepdim=True)))
            if k == half and self.octaves is not None:
                x = F.relu(x + self.octaves(x) + self.twelfths(x))
            x = block(x)
        out = self.each_frame(self.head(x), frames)
        string = self.each_frame(self.string2(F.relu(self.string1(x))), frames)
        return out[:, 0].contiguous(), out[:, 1].contiguous(), string.permute(0, 2, 3, 1).contiguous()


class Deployed(nn.Module):
    """As exported: input (frames, 528) with channel 0 first, outputs (frames, 53), (frames, 53), (frames, 53, 6)."""

    def __init__(self, net):
        super().__init__()
        self.net = net

    def forward(self, features):
        x = features.reshape(1, -1, 2, 264).permute(0, 2, 1, 3)
        onset, sounding, string = self.net(x)
        return onset[0], sounding[0], string[0]


def fold(net):
    """Merges every batch norm into its convolution (eval mode), in place of both."""
    net.eval()
    for module in net.modules():
        if isinstance(module, nn.Sequential) and len(module) == 2 and isinstance(module[1], nn.BatchNorm2d):
            c, bn = module[0], module[1]
            scale = bn.weight / torch.sqrt(bn.running_var + bn.eps)
            merged = nn.Conv2d(c.in_channels, c.out_channels, c.kernel_size, c.stride, c.padding, c.dilation, bias=True)
            merged.weight.data = c.weight.data * scale[:, None, None, None]
            merged.bias.data = bn.bias.data - bn.running_mean * scale
            module[0], module[1] = merged, nn.Identity()
    return net
