"""Share of points found, on pictures the network never saw.

    python3 evaluate.py WEIGHTS.pt --labelled FOLDER [--all] [--size 224]

A point counts as found at 0.05 (0.1) when a peak of its map lies within 5 % (10 %) of the longer side of the
animal's box. For a pair of points the two highest peaks are taken and matched the way that fits better.
"""

import argparse
import json

import torch
import torch.nn.functional as F

from labelled import cut_crops, is_validation, read_labelled
from maps import HEAT, LABELS, MAPS, STRIDE
from network import PawNet

PAWS = (HEAT.index("forePaw"), HEAT.index("hindPaw"))


def peaks(heat, count):
    """The `count` highest local maxima of maps [n, h, w], placed below the cell: pixels [n, count, 2], scores."""
    n, h, w = heat.shape
    top = F.max_pool2d(heat[:, None], 5, 1, 2)[:, 0]
    score, at = torch.where(heat == top, heat, torch.zeros_like(heat)).flatten(1).topk(count, 1)
    y, x = torch.div(at, w, rounding_mode="floor"), at % w
    logs = F.pad(torch.log(heat + 1e-6)[:, None], (1, 1, 1, 1), mode="replicate")[:, 0]
    rows = torch.arange(n, device=heat.device)[:, None]

    def shift(before, middle, after):
        bend = (2 * middle - before - after).clamp_min(1e-3)
        return ((after - before) / 2 / bend).clamp(-0.5, 0.5)

    middle = logs[rows, y + 1, x + 1]
    dx = shift(logs[rows, y + 1, x], middle, logs[rows, y + 1, x + 2])
    dy = shift(logs[rows, y, x + 1], middle, logs[rows, y + 2, x + 1])
    return torch.stack([(x + 0.5 + dx) * STRIDE, (y + 0.5 + dy) * STRIDE], -1), score


@torch.no_grad()
@torch.backends.cudnn.flags(benchmark=False)
def maps_of(net, pictures, batch=64):
    out = [torch.sigmoid(net(pictures[i : i + batch].float()).float()) for i in range(0, len(pictures), batch)]
    return torch.cat(out)


def pair_errors(found, truth):
    """Distance of each true point [m, 2] from its peak; with two points the better of both matchings."""
    d = torch.cdist(truth, found)
    if len(truth) == 2 and len(found) >= 2:
        straight, crossed = torch.stack([d[0, 0], d[1, 1]]), torch.stack([d[0, 1], d[1, 0]])
        return straight if straight.sum() <= crossed.sum() else crossed
    return d.min(1).values


def measure(maps, points, seen, far, length):
    """One row per map: {"0.05", "0.1", "n"}; for paws also near and far side apart, and what the other map says."""
    n = len(maps)
    maps, points, seen, far, length = (v.cpu() for v in (maps, points, seen, far, length))
    result = {}
    hit = {}

    def count(key, error, limit):
        row = hit.setdefault(key, [0, 0, 0])
        row[0] += int(error < 0.05 * limit)
        row[1] += int(error < 0.1 * limit)
        row[2] += 1

    swapped = [0, 0]
    for k, name in enumerate(HEAT):
        found, _ = peaks(maps[:, k], len(LABELS[name]))
        for i in range(n):
            shown = [q for q in range(len(LABELS[name])) if seen[i, k, q] == 2]
            if not shown:
                continue
            errors = pair_errors(found[i], points[i, k, shown])
            for q, error in zip(shown, errors.tolist()):
                limit = float(length[i])
                count(name, error, limit)
                if k in PAWS and far[i, k, q] >= 0:
                    count(f"{name} {'far' if far[i, k, q] > 0.5 else 'near'}", error, limit)
                if k in PAWS:
                    x, y = (points[i, k, q] / STRIDE).long().clamp(0, maps.shape[-1] - 1).tolist()
                    y0, x0 = max(0, y - 2), max(0, x - 2)
                    window = maps[i, :, y0 : y + 3, x0 : x + 3]
                    own, other = window[PAWS[0]].max(), window[PAWS[1]].max()
                    if k == PAWS[1]:
                        own, other = other, own
                    if max(own, other) > 0.1:
                        swapped[1] += 1
                        swapped[0] += int(other > own)
    for key, (close, near, total) in hit.items():
        result[key] = {"0.05": round(close / total, 3), "0.1": round(near / total, 3), "n": total}
    result["fore and hind exchanged"] = {"share": round(swapped[0] / max(1, swapped[1]), 3), "n": swapped[1]}
    return result


def trait_accuracy(maps, points, seen, traits):
    """Share of paws whose contact, far and left are right at an even threshold."""
    result = {}
    for name, value in zip(("contact", "far", "left"), traits):
        right = total = 0
        for k in PAWS:
            at = (points[:, k] / STRIDE).long().clamp(0, maps.shape[-1] - 1)
            rows = torch.arange(len(maps), device=maps.device)[:, None]
            p = maps[rows, MAPS.index(name), at[..., 1], at[..., 0]]
            known = (seen[:, k] > 0) & (value[:, k] >= 0)
            right += int((((p > 0.5).float() == value[:, k]) & known).sum())
            total += int(known.sum())
        result[name] = {"right": round(right / max(1, total), 3), "n": total}
    return result


def measure_labelled(net, data, size):
    """As the pipeline sees them: the animal's longer side 80 % of the crop."""
    rows = torch.arange(len(data), device=data.pictures.device)
    pictures, points, seen, contact, far, left = cut_crops(data, None, len(data), size, rows, gentle=True)[:6]
    maps = maps_of(net, pictures)
    length = torch.full((len(data),), 0.8 * size, device=maps.device)
    return {**measure(maps, points, seen, far, length), **trait_accuracy(maps, points, seen, (contact, far, left))}


def table(result):
    lines = []
    for key, row in result.items():
        lines.append(f"{key:26}" + "  ".join(f"{k} {v}" for k, v in row.items()))
    return "\n".join(lines)


if __name__ == "__main__":
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("weights")
    ask.add_argument("--labelled", required=True)
    ask.add_argument("--all", action="store_true", help="every picture, not only the validation part")
    ask.add_argument("--size", type=int, default=224)
    given = ask.parse_args()
    stored = torch.load(given.weights, map_location="cpu")
    net = PawNet(**stored["config"]).eval()
    net.load_state_dict({k: v.float() for k, v in stored["weights"].items()})
    keep = None if given.all else (lambda e: e["species"] == "dog" and is_validation(e["file"]))
    result = measure_labelled(net, read_labelled(given.labelled, only=keep), given.size)
    print(table(result))
    print(json.dumps(result))
