"""The paw network: MobileNetV2 with a feature pyramid to stride 4 and one small head for all maps.

The layers are those of the public human single-pose network (Apache-2.0), so that its weights can be the start;
batch norm is folded there already and is not brought back.
"""

import torch
import torch.nn as nn
import torch.nn.functional as F

from maps import HEAT, MAPS

# Output channels and stride of the sixteen inverted residual blocks at width 1.
BLOCKS = [
    (24, 2), (24, 1), (32, 2), (32, 1), (32, 1), (64, 2), (64, 1), (64, 1), (64, 1),
    (96, 1), (96, 1), (96, 1), (160, 2), (160, 1), (160, 1), (320, 1),
]  # fmt: skip
# Blocks whose output feeds the pyramid, coarse to fine, and the channels the pyramid has after each.
LATERALS = [(9, 32), (5, 24), (2, 24)]


class Conv(nn.Module):
    """Convolution with the padding that TensorFlow calls SAME (even input sizes), bias and a clipped activation."""

    def __init__(self, inputs, outputs, kernel=1, stride=1, depthwise=False, act=None, bias=True):
        super().__init__()
        groups = inputs if depthwise else 1
        padding = kernel // 2 if stride == 1 else 0
        self.conv = nn.Conv2d(inputs, outputs, kernel, stride, padding, groups=groups, bias=bias)
        self.kernel, self.stride, self.depthwise, self.act = kernel, stride, depthwise, act

    def forward(self, x):
        if self.stride == 2:
            x = F.pad(x, (0, 1, 0, 1))
        x = self.conv(x)
        if self.act == "relu6":
            return x.clamp(0, 6)
        return F.relu(x) if self.act == "relu" else x


class Block(nn.Module):
    """Inverted residual: widen, depthwise 3 × 3, narrow. While training, `skip` is how often it is left out."""

    skip = 0.0

    def __init__(self, inputs, outputs, stride, hidden):
        super().__init__()
        self.expand = Conv(inputs, hidden, act="relu6")
        self.depthwise = Conv(hidden, hidden, 3, stride, depthwise=True, act="relu6")
        self.project = Conv(hidden, outputs)
        self.keeps_shape = stride == 1 and inputs == outputs

    def forward(self, x):
        y = self.project(self.depthwise(self.expand(x)))
        if not self.keeps_shape:
            return y
        if self.training and self.skip > 0:
            kept = torch.rand(len(x), 1, 1, 1, device=x.device) >= self.skip
            y = y * (kept / (1 - self.skip)).to(y.dtype)
        return x + y


class Context(nn.Module):
    """Looks far around where the picture is small: widen, depthwise 7 × 7, narrow, added to what was there.

    It starts as nothing, so that a network trained without it goes on as it was.
    """

    def __init__(self, channels):
        super().__init__()
        self.expand = Conv(channels, channels * 4, act="relu6")
        self.depthwise = Conv(channels * 4, channels * 4, 7, depthwise=True, act="relu6")
        self.project = Conv(channels * 4, channels)
        nn.init.zeros_(self.project.conv.weight)
        nn.init.zeros_(self.project.conv.bias)

    def forward(self, x):
        return x + self.project(self.depthwise(self.expand(x)))


class PawNet(nn.Module):
    """Picture [n, 3, s, s] with values 0 to 1, s a multiple of 32 → map logits [n, len(MAPS), s/4, s/4].

    `width` scales the channels as MobileNetV2 does (multiples of 8); `deep` is the width of its last layer, `head`
    that of the head; `context` the number of far-looking blocks at a 32nd and at a 16th of the picture's size.
    What prune.py narrows: `stem`, the channels of the first layer; `hidden`, those inside each block, six times its
    input unless told; `last`, those that the last block puts out.
    """

    def __init__(self, width=1.0, head=96, deep=1280, context=(0, 0), stem=None, hidden=None, last=None):
        super().__init__()
        scaled = lambda n: max(8, int(n * width + 4) // 8 * 8)  # noqa: E731
        outputs = [scaled(n) for n, _ in BLOCKS[:-1]] + [last or scaled(BLOCKS[-1][0])]
        inputs = [scaled(16), *outputs[:-1]]
        stem, hidden = stem or scaled(32), hidden or [6 * n for n in inputs]
        self.config = {
            "width": width, "head": head, "deep": deep, "context": tuple(context),
            "stem": stem, "hidden": tuple(hidden), "last": outputs[-1],
        }  # fmt: skip
        self.stem = Conv(3, stem, 3, 2, act="relu6")
        self.stem_depthwise = Conv(stem, stem, 3, depthwise=True, act="relu6")
        self.stem_project = Conv(stem, scaled(16))
        shapes = zip(inputs, outputs, (stride for _, stride in BLOCKS), hidden)
        self.blocks = nn.ModuleList(Block(*shape) for shape in shapes)
        c = outputs[-1]
        self.deep = Conv(c, deep, act="relu6")
        self.squeeze = Conv(deep, 64)
        c = 64
        self.wide = nn.ModuleList(Context(c) for _ in range(context[0]))
        self.middle = nn.ModuleList(Context(LATERALS[0][1]) for _ in range(context[1]))
        self.laterals, self.smooth, self.merge = nn.ModuleList(), nn.ModuleList(), nn.ModuleList()
        for block, n in LATERALS:
            self.laterals.append(Conv(outputs[block - 1], c))
            self.smooth.append(Conv(c, c, 3, depthwise=True, bias=False))
            self.merge.append(Conv(c, n, act="relu"))
            c = n
        self.head_depthwise = Conv(c, c, 3, depthwise=True)
        self.head_mix = Conv(c, head, act="relu")
        self.head_maps = Conv(head, len(MAPS))
        nn.init.constant_(self.head_maps.conv.bias[: len(HEAT)], -4.0)

    def forward(self, x):
        x = self.stem_project(self.stem_depthwise(self.stem(x * 2 - 1)))
        kept = {}
        for number, block in enumerate(self.blocks, 1):
            x = kept[number] = block(x)
        x = self.squeeze(self.deep(x))
        for block in self.wide:
            x = block(x)
        for (source, _), lateral, smooth, merge in zip(LATERALS, self.laterals, self.smooth, self.merge):
            x = F.interpolate(x, scale_factor=2.0, mode="bilinear", align_corners=False) + lateral(kept[source])
            x = merge(smooth(x))
            for block in self.middle if source == LATERALS[0][0] else []:
                x = block(x)
        return self.head_maps(self.head_mix(self.head_depthwise(x)))


def layers_in_order(net):
    """Every Conv in the order in which export.py writes it."""
    yield from (net.stem, net.stem_depthwise, net.stem_project)
    for block in net.blocks:
        yield from (block.expand, block.depthwise, block.project)
    yield from (net.deep, net.squeeze)
    for block in net.wide:
        yield from (block.expand, block.depthwise, block.project)
    for n, (lateral, smooth, merge) in enumerate(zip(net.laterals, net.smooth, net.merge)):
        yield from (lateral, smooth, merge)
        for block in net.middle if n == 0 else []:
            yield from (block.expand, block.depthwise, block.project)
    yield from (net.head_depthwise, net.head_mix, net.head_maps)


def human_pose_layers(net):
    """Pairs (our Conv, name of the layer's node in the human-pose graph) for everything below the head."""
    model = "StatefulPartitionedCall/center_net_mobile_net_v2fpn_feature_extractor/model_1/"
    deep = model + "model/"
    yield net.stem, deep + "Conv1_relu/Relu6"
    yield net.stem_depthwise, deep + "expanded_conv_depthwise/depthwise"
    yield net.stem_project, deep + "expanded_conv_project_BN/FusedBatchNormV3"
    for n, block in enumerate(net.blocks, 1):
        yield block.expand, f"{deep}block_{n}_expand_relu/Relu6"
        yield block.depthwise, f"{deep}block_{n}_depthwise/depthwise"
        yield block.project, f"{deep}block_{n}_project_BN/FusedBatchNormV3"
    yield net.deep, deep + "out_relu/Relu6"
    yield net.squeeze, model + "conv2d/BiasAdd"
    for n in range(3):
        suffix = f"_{n}" if n else ""
        yield net.laterals[n], f"{model}conv2d_{n + 1}/BiasAdd"
        yield net.smooth[n], f"{model}separable_conv2d{suffix}/separable_conv2d/depthwise"
        yield net.merge[n], f"{model}re_lu{suffix}/Relu"


def load_human_pose(net, graph):
    """Start from the human-pose weights; `graph` is a `graph_file.GraphFile` of that network.

    A narrower `deep` layer keeps the channels that weigh most in the layer after it.
    """
    with torch.no_grad():
        for layer, name in human_pose_layers(net):
            weight, bias = graph.conv_weights(name)
            if layer in (net.deep, net.squeeze) and net.config["deep"] < 1280:
                after, _ = graph.conv_weights(dict((l, n) for l, n in human_pose_layers(net))[net.squeeze])
                keep = after.abs().sum((0, 2, 3)).topk(net.config["deep"]).indices.sort().values
                weight = weight[keep] if layer is net.deep else weight[:, keep]
                bias = bias[keep] if layer is net.deep else bias
            layer.conv.weight.copy_(weight)
            if layer.conv.bias is not None:
                layer.conv.bias.copy_(bias)
