"""Narrows a trained network where its milliseconds are, for training on from there.

    python3 prune.py WEIGHTS.pt OUT.pt --labelled PHOTOS --video VIDEO --cost 0.55

A channel inside a block is worth what the loss on labelled pictures would change without it (first order: activation
times gradient) and costs what wasm spends on it. The cheapest for their price go first, until the whole costs the
share asked for; what reads the rest is fitted anew, so that it still says what it said. Widths between blocks stay.
"""

import argparse
import json

import torch
import torch.nn.functional as F

from evaluate import measure_labelled
from labelled import cut_crops, is_validation, read_labelled
from network import BLOCKS, Conv, PawNet
from targets import heat_targets, trait_targets
from train import loss_of

# Multiplications in a nanosecond that tfjs's wasm gets through in one thread, 1 × 1 and stem, and depthwise.
DENSE, DEPTHWISE = 12.0, 4.4
# No layer keeps fewer of its channels than this share; and all keep whole groups of eight, as the kernels take them.
LEAST, GROUP = 0.25, 8


def cuts(net):
    """What can be narrowed, by name: the layers whose outputs shrink, and the layer that reads them."""
    yield "stem", [net.stem, net.stem_depthwise], net.stem_project
    for n, block in enumerate(net.blocks):
        yield f"hidden {n}", [block.expand, block.depthwise], block.project
    yield "last", [net.blocks[-1].project], net.deep
    yield "deep", [net.deep], net.squeeze
    yield "head", [net.head_mix], net.head_maps


def cost_of(layer, out):
    """Nanoseconds of a layer whose answer is `out` [n, c, h, w]."""
    kernel = layer.conv.weight.shape[1:].numel()
    return out[0].numel() * kernel / (DEPTHWISE if layer.depthwise else DENSE)


def costs(net, size=(160, 224)):
    """Nanoseconds of every convolution for one crop."""
    found, hooks = {}, []
    for layer in net.modules():
        if isinstance(layer, Conv):
            hooks.append(layer.register_forward_hook(lambda me, _, out: found.update({me: cost_of(me, out)})))
    with torch.no_grad():
        net(torch.zeros(1, 3, *size))
    for hook in hooks:
        hook.remove()
    return found


def pictures(sets, count, size):
    """Batches of crops of labelled pictures with their targets."""
    for turn in range(count):
        data = sets[turn % len(sets)]
        picture, points, seen, contact, far, left, box = cut_crops(data, data.pictures, 8, size)[:7]
        side = size // 4
        heat, weight = heat_targets(points, seen, side, torch.zeros(8, dtype=torch.bool), box)
        trait, trait_weight = trait_targets(points, seen, (contact, far, left), side)
        mask = torch.zeros(8, 1, side, side)
        yield picture, heat, weight, torch.cat([trait, mask], 1), torch.cat([trait_weight, mask], 1)


class Watch:
    """Worth of every channel that can go, and what its reader needs to be fitted without it."""

    def __init__(self, net, samples):
        self.net, self.samples, self.held = net, samples, {}
        self.worth = {name: 0 for name, _, _ in cuts(net)}
        self.gram = {name: 0 for name, _, _ in cuts(net)}
        for name, _, reader in cuts(net):
            reader.register_forward_pre_hook(lambda _, given, name=name: self.keep(name, given[0]))

    def keep(self, name, x):
        if x.requires_grad:
            x.retain_grad()
            self.held[name] = x

    def add(self):
        """After a backward pass."""
        for name, x in self.held.items():
            self.worth[name] = self.worth[name] + (x.grad * x).sum((2, 3)).square().sum(0).detach()
            rows = x.detach().permute(0, 2, 3, 1).flatten(0, 2)
            rows = rows[torch.randint(0, len(rows), (self.samples,))]
            rows = torch.cat([rows, torch.ones(len(rows), 1)], 1)
            self.gram[name] = self.gram[name] + (rows.T @ rows).double()
        self.held = {}


def price_per_channel(layers, reader, found):
    return sum(found[layer] for layer in [*layers, reader]) / layers[0].conv.out_channels


def choose(net, worth, share):
    """Channels to keep, by name."""
    found = costs(net)
    total = sum(found.values())
    parts = {name: (layers, reader, layers[0].conv.out_channels) for name, layers, reader in cuts(net)}
    price = {name: price_per_channel(layers, reader, found) for name, (layers, reader, _) in parts.items()}
    keep = {name: n for name, (_, _, n) in parts.items()}
    ranked = {name: w.sort().values for name, w in worth.items()}
    spent = total
    while spent > share * total:
        best = None
        for name, n in keep.items():
            if n - GROUP < LEAST * parts[name][2]:
                continue
            gone = parts[name][2] - n
            rate = ranked[name][gone : gone + GROUP].sum() / (GROUP * price[name])
            if best is None or rate < best[0]:
                best = (rate, name)
        if best is None:
            break
        keep[best[1]] -= GROUP
        spent -= GROUP * price[best[1]]
    return {name: worth[name].topk(n).indices.sort().values for name, n in keep.items()}


def refit(weight, bias, gram, keep):
    """The reader's weights over the channels kept that come nearest to what it said over all."""
    said = torch.cat([weight, bias[:, None]], 1).double()
    kept = torch.cat([keep, torch.tensor([len(gram) - 1])])
    own = gram[kept][:, kept]
    own = own + 1e-3 * own.diagonal().mean() * torch.eye(len(own), dtype=own.dtype)
    fitted = torch.linalg.solve(own, gram[kept] @ said.T).T
    return fitted[:, :-1].float(), fitted[:, -1].float()


@torch.no_grad()
def narrowed(net, keep, gram):
    config = dict(net.config)
    config["stem"], config["last"] = len(keep["stem"]), len(keep["last"])
    config["deep"], config["head"] = len(keep["deep"]), len(keep["head"])
    config["hidden"] = tuple(len(keep[f"hidden {n}"]) for n in range(len(BLOCKS)))
    for name, layers, reader in cuts(net):
        weight, bias = refit(reader.conv.weight[:, :, 0, 0], reader.conv.bias, gram[name], keep[name])
        reader.conv.weight = torch.nn.Parameter(weight[:, :, None, None])
        reader.conv.bias = torch.nn.Parameter(bias)
        for layer in layers:
            layer.conv.weight = torch.nn.Parameter(layer.conv.weight[keep[name]])
            layer.conv.bias = torch.nn.Parameter(layer.conv.bias[keep[name]])
    small = PawNet(**config)
    small.load_state_dict(net.state_dict())
    return small.eval()


def main(given):
    torch.manual_seed(given.seed)
    stored = torch.load(given.weights, map_location="cpu")
    net = PawNet(**stored["config"]).eval()
    net.load_state_dict({k: v.float() for k, v in stored["weights"].items()})
    is_check = lambda e: e["species"] == "dog" and is_validation(e["file"])  # noqa: E731
    sets = [read_labelled(given.labelled, only=lambda e: not is_check(e))]
    if given.video:
        sets.append(read_labelled(given.video, only=lambda e: not e.get("heldOut")))
    watch = Watch(net, given.samples)
    for picture, *targets in pictures(sets, given.batches, given.size):
        loss_of(net(picture), *targets).backward()
        watch.add()
        net.zero_grad()
    before = sum(costs(net).values())
    keep = choose(net, watch.worth, given.cost)
    small = narrowed(net, keep, watch.gram)
    after = sum(costs(small).values())
    torch.save({"config": small.config, "weights": {k: v.half() for k, v in small.state_dict().items()}}, given.out)
    print(json.dumps({**small.config, "parameters": sum(p.numel() for p in small.parameters())}))
    print(f"reckoned {before / 1e6:.1f} -> {after / 1e6:.1f} ms a crop of 224 x 160")
    if given.check:
        checks = read_labelled(given.labelled, only=is_check)
        result = measure_labelled(small, checks, given.size)
        print(json.dumps({k: result[k] for k in ("forePaw", "hindPaw")}))


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("weights")
    ask.add_argument("out")
    ask.add_argument("--labelled", required=True)
    ask.add_argument("--video")
    ask.add_argument("--cost", type=float, default=0.55, help="share of the time to keep")
    ask.add_argument("--batches", type=int, default=40)
    ask.add_argument("--samples", type=int, default=256, help="places of each batch that what is left is fitted on")
    ask.add_argument("--size", type=int, default=224)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--check", action="store_true", help="measure what is left on the validation photographs")
    main(ask.parse_args())
