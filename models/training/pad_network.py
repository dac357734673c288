"""The pad network: where in a small picture of one paw its pad meets the ground.

Inverted residual blocks down to an eighth of the picture and a pyramid back up to half of it, from random weights; batch
norm is used while training and folded into the convolutions afterwards.
"""

import copy

import torch
import torch.nn as nn
import torch.nn.functional as F

from network import Conv

# Side of the picture and of one cell of the answer, pixels of the picture.
PATCH, CELL = 64, 2
SIDE = PATCH // CELL
# Side of the square that is cut out of a frame, as a share of the height of the dog's box.
SHARE = 0.4


class Normed(Conv):
    """A convolution with batch norm in place of a bias."""

    def __init__(self, inputs, outputs, kernel=1, stride=1, depthwise=False, act=None):
        super().__init__(inputs, outputs, kernel, stride, depthwise, None, bias=False)
        self.norm, self.after = nn.BatchNorm2d(outputs), act

    def forward(self, x):
        x = self.norm(super().forward(x))
        return x.clamp(0, 6) if self.after == "relu6" else x

    def folded(self):
        """The same as one convolution with bias, once the norm's statistics stand."""
        inputs = self.conv.in_channels
        out = Conv(inputs, self.conv.out_channels, self.kernel, self.stride, self.depthwise, self.after)
        scale = self.norm.weight / torch.sqrt(self.norm.running_var + self.norm.eps)
        with torch.no_grad():
            out.conv.weight.copy_(self.conv.weight * scale[:, None, None, None])
            out.conv.bias.copy_(self.norm.bias - self.norm.running_mean * scale)
        return out


class Step(nn.Module):
    """Inverted residual: widen, depthwise 3 × 3, narrow."""

    def __init__(self, inputs, outputs, stride, hidden):
        super().__init__()
        self.expand = Normed(inputs, hidden, act="relu6")
        self.depthwise = Normed(hidden, hidden, 3, stride, depthwise=True, act="relu6")
        self.project = Normed(hidden, outputs)
        self.keeps_shape = stride == 1 and inputs == outputs

    def forward(self, x):
        y = self.project(self.depthwise(self.expand(x)))
        return x + y if self.keeps_shape else y


class PadNet(nn.Module):
    """Picture [n, 3, PATCH, PATCH] with values 0 to 1 → logits [n, SIDE² + 1]: of the cell that the pad lies in, row by
    row, and last of there being no paw."""

    def __init__(self, widths=(16, 24, 40), hidden=(48, 72, 96, 120), depth=(2, 3)):
        super().__init__()
        self.config = {"widths": tuple(widths), "hidden": tuple(hidden), "depth": tuple(depth)}
        a, b, c = widths
        self.stem = Normed(3, a, 3, 2, act="relu6")
        self.quarter = nn.Sequential(Step(a, b, 2, hidden[0]), *(Step(b, b, 1, hidden[1]) for _ in range(depth[0])))
        self.eighth = nn.Sequential(Step(b, c, 2, hidden[2]), *(Step(c, c, 1, hidden[3]) for _ in range(depth[1])))
        self.narrow = Normed(c, b)
        self.beside_quarter = Normed(b, b)
        self.smooth_quarter = Normed(b, b, 3, depthwise=True)
        self.merge_quarter = Normed(b, a, act="relu6")
        self.beside_stem = Normed(a, a)
        self.smooth_stem = Normed(a, a, 3, depthwise=True)
        self.merge_stem = Normed(a, a, act="relu6")
        self.place = Conv(a, 1)
        self.none = Conv(c, 1)

    def forward(self, x):
        up = lambda y: F.interpolate(y, scale_factor=2.0, mode="bilinear", align_corners=False)  # noqa: E731
        stem = self.stem(x * 2 - 1)
        quarter = self.quarter(stem)
        eighth = self.eighth(quarter)
        x = up(self.narrow(eighth)) + self.beside_quarter(quarter)
        x = up(self.merge_quarter(self.smooth_quarter(x))) + self.beside_stem(stem)
        places = self.place(self.merge_stem(self.smooth_stem(x))).flatten(1)
        return torch.cat([places, self.none(eighth.mean((2, 3), keepdim=True)).flatten(1)], 1)


def folded(net):
    """The network without batch norm, as it is exported."""
    net = copy.deepcopy(net).eval()
    for module in list(net.modules()):
        for name, child in list(module.named_children()):
            if isinstance(child, Normed):
                setattr(module, name, child.folded())
    return net


def place_of(logits):
    """Mean place [n, 2] in picture pixels, its standard deviations, and the mass they rest on, around the highest cell;
    and the chance that there is a paw.

    `src/paws/pads.ts` reads the answer in the same way.
    """
    p = torch.softmax(logits.float(), 1)
    paw = 1 - p[:, -1]
    p = (p[:, :-1] / paw[:, None].clamp_min(1e-9)).view(-1, SIDE, SIDE)
    best = p.flatten(1).argmax(1)
    j = torch.arange(SIDE, device=p.device)
    near_y = (j[None] - (best // SIDE)[:, None]).abs() <= 4
    near_x = (j[None] - (best % SIDE)[:, None]).abs() <= 4
    p = p * near_y[:, :, None] * near_x[:, None]
    sure = p.sum((1, 2))
    p = p / sure[:, None, None]
    at = (j + 0.5) * CELL
    x, y = (p.sum(1) * at).sum(1), (p.sum(2) * at).sum(1)
    sd_x = ((p.sum(1) * (at[None] - x[:, None]) ** 2).sum(1)).sqrt()
    sd_y = ((p.sum(2) * (at[None] - y[:, None]) ** 2).sum(1)).sqrt()
    return torch.stack([x, y], -1), torch.stack([sd_x, sd_y], -1), sure, paw
