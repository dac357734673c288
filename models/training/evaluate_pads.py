"""What the pad network adds to the paw network's marks on real pictures that neither was trained on.

    python3 evaluate_pads.py PADS.pt PAWS.pt --labelled PHOTOS [--video VIDEO] [--sheet SHEET.png]

PAWS.pt is import_shipped.py's. Of each seen paw the mark nearest to its label is taken, if within 10 % of the longer side
of the animal's box, and the patch about it answered as in the app. Distances are from the label, which people put on the
middle of the paw: to the mark, and to the pad's place with the learned offset of labels from pads added; shares of the
box's height. --sheet draws some patches with the mark (cyan) and the pad's place (red; hollow where it is not believed).
"""

import argparse
import json
from dataclasses import dataclass

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from evaluate import maps_of, peaks
from labelled import CANVAS, cut_crops, is_validation, read_labelled
from maps import HEAT
from network import PawNet
from pad_network import PATCH, SHARE, PadNet, folded, place_of
from pad_scenes import NO_PAWS, PAWS

SIZE, CROP_SHARE = 224, 0.8
# As the app: marks weaker than this get no patch (src/pipeline/pads.ts), and what makes it believe a place (paw-place.ts).
LEAST_SCORE, MARKS = 0.15, 4
SURE_PAW, SURE_PAD, PAD_REACH = 0.5, 0.5, 0.09
REACH = 0.1
# A paw farther away than this is no part of the patch, sides of it.
CLEAR = 0.6


@dataclass
class Told:
    """The pad network's answers about places, canvas pixels."""

    at: torch.Tensor
    sure: torch.Tensor
    paw: torch.Tensor
    patches: torch.Tensor


@torch.no_grad()
def ask(net, data, rows, places, height):
    """Answers for the patches about places [n, 2] of pictures `rows`, on animals so high [n], canvas pixels."""
    side = (SHARE * height)[:, None]
    j = (torch.arange(PATCH) + 0.5) / PATCH - 0.5
    y, x = torch.meshgrid(j, j, indexing="ij")
    grid = torch.stack([x, y], -1)[None] * side[:, :, None, None] + places[:, None, None]
    pictures = data.pictures[rows].float() / 255
    patches = F.grid_sample(pictures, grid / CANVAS * 2 - 1, align_corners=False, padding_mode="border")
    at, _, sure, paw = place_of(torch.cat([net(part) for part in patches.split(256)]))
    return Told(places + (at / PATCH - 0.5) * side, sure, paw, patches)


def follow(net, data, rows, places, height, by=0.1):
    """How much of a move of the patch by a share of its side the answers [n, 2] go along with, across and down: 0 for none."""
    moved = []
    for axis in (0, 1):
        shift = torch.zeros(len(rows), 2)
        shift[:, axis] = by * SHARE * height
        ends = [ask(net, data, rows, places + sign * shift, height).at[:, axis] for sign in (-1, 1)]
        moved.append((ends[1] - ends[0]) / (2 * shift[:, axis]))
    return torch.stack(moved, -1)


def marks_of(net, data):
    """The paw network's marks [n, 2 · MARKS, 2] in canvas pixels; those too weak are endlessly far away."""
    crops = cut_crops(data, None, len(data), SIZE, torch.arange(len(data)), gentle=True)[0]
    maps = maps_of(net, crops)
    found = [peaks(maps[:, HEAT.index(name)], MARKS) for name in PAWS]
    at, score = (torch.cat(parts, 1) for parts in zip(*found))
    box = data.box
    zoom = (box[:, 2:] - box[:, :2]).amax(1) / (CROP_SHARE * SIZE)
    at = (at - SIZE / 2) * zoom[:, None, None] + ((box[:, :2] + box[:, 2:]) / 2)[:, None]
    return torch.where((score >= LEAST_SCORE)[..., None], at, torch.full_like(at, torch.inf))


def spread_of(errors):
    """Of errors [n, 2] in shares: medians and tails of the distance, along each axis, and what they have in common."""
    q = lambda v: [round(float(torch.quantile(v, s)), 4) for s in (0.5, 0.75, 0.9)]  # noqa: E731
    return {
        "n": len(errors),
        "distance": q(torch.linalg.norm(errors, dim=1)),
        "x": q(errors[:, 0].abs()),
        "y": q(errors[:, 1].abs()),
        "median off": [round(float(v), 4) for v in errors.median(0).values],
    }


def measure_paws(pads, off, paws, data):
    """Per kind of paw the errors of marks, of pads, and of the places that the app would take; and what was drawn from."""
    marks, high = marks_of(paws, data), data.box[:, 3] - data.box[:, 1]
    longer = (data.box[:, 2:] - data.box[:, :2]).amax(1)
    k = torch.tensor([HEAT.index(name) for name in PAWS])
    seen = data.seen[:, k] == 2
    row, kind, which = seen.nonzero().unbind(1)
    label = data.points[:, k][row, kind, which]
    contact = data.contact[:, k][row, kind, which]
    away, nearest = torch.linalg.norm(marks[row] - label[:, None], dim=-1).min(1)
    marked = away < REACH * longer[row]
    total = len(row)
    row, kind, label, contact = (v[marked] for v in (row, kind, label, contact))
    mark = marks[row, nearest[marked]]
    told = ask(pads, data, row, mark, high[row])
    shares = lambda v: (v - label) / high[row, None]  # noqa: E731
    as_label = told.at + off * SHARE * high[row, None] / PATCH
    moved = torch.linalg.norm(told.at - mark, dim=1) / high[row]
    believed = (told.paw >= SURE_PAW) & (told.sure >= SURE_PAD) & (moved <= PAD_REACH)
    taken = torch.where(believed[:, None], as_label, mark)
    errors = {"mark": shares(mark), "pad": shares(as_label), "taken": shares(taken)}
    nearer = torch.linalg.norm(errors["pad"], dim=1) < torch.linalg.norm(errors["mark"], dim=1)
    follows = follow(pads, data, row, mark, high[row])
    groups = {"hind": kind == 0, "fore": kind == 1, "on the ground": contact == 1}
    share = lambda v: round(float(v.float().mean()), 3)  # noqa: E731
    result = {"seen": total, "marked": len(row)}
    for name, chosen in groups.items():
        if not chosen.any():
            continue
        result[name] = {
            "no paw": share(told.paw[chosen] < SURE_PAW),
            "believed": share(believed[chosen]),
            "pad nearer, believed": share(nearer[chosen & believed]),
            "follows a moved patch": [round(float(v), 3) for v in follows[chosen & believed].median(0).values],
            **{key: spread_of(error[chosen]) for key, error in errors.items()},
        }
    return result, (told, mark, believed, high[row])


def measure_others(pads, data):
    """Of each kind of point that is no paw the share of patches about it of which the network says so.

    Only in pictures with a label on every paw, all of them outside the patch.
    """
    high = data.box[:, 3] - data.box[:, 1]
    k = torch.tensor([HEAT.index(name) for name in PAWS])
    paws = data.points[:, k].flatten(1, 2)
    whole = (data.seen[:, k] > 0).flatten(1).all(1)
    result = {}
    for name in NO_PAWS:
        at = HEAT.index(name)
        row, which = ((data.seen[:, at] == 2) & whole[:, None]).nonzero().unbind(1)
        place = data.points[row, at, which]
        clear = (torch.linalg.norm(paws[row] - place[:, None], dim=-1) > CLEAR * SHARE * high[row, None]).all(1)
        row, place = row[clear], place[clear]
        if len(row):
            told = ask(pads, data, row, place, high[row])
            result[name] = {"n": len(row), "no paw": round(float((told.paw < SURE_PAW).float().mean()), 3)}
    return result


def sheet(parts, path, count=40, across=8, zoom=4, seed=1):
    """Patches drawn by lot from (answers, marks, believed, heights) of several sets."""
    tiles = []
    for told, mark, believed, high in parts:
        for i in range(len(mark)):
            tile = (told.patches[i].permute(1, 2, 0) * 255).byte().numpy()[..., ::-1]
            tile = cv2.resize(tile, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_LINEAR)
            pad = ((told.at[i] - mark[i]) / (SHARE * high[i]) + 0.5) * PATCH * zoom
            cv2.drawMarker(tile, (PATCH * zoom // 2,) * 2, (255, 255, 0), cv2.MARKER_CROSS, 18, 2)
            cv2.circle(tile, tuple(int(v) for v in pad.round()), 7, (0, 0, 255), -1 if believed[i] else 2)
            tiles.append(cv2.copyMakeBorder(tile, 2, 2, 2, 2, cv2.BORDER_CONSTANT))
    lot = np.random.default_rng(seed).permutation(len(tiles))[:count]
    rows = [np.hstack([tiles[i] for i in lot[j : j + across]]) for j in range(0, count, across)]
    cv2.imwrite(path, np.vstack(rows))


if __name__ == "__main__":
    ask_for = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask_for.add_argument("pads")
    ask_for.add_argument("paws")
    ask_for.add_argument("--labelled", required=True)
    ask_for.add_argument("--video")
    ask_for.add_argument("--sheet", metavar="SHEET.png")
    given = ask_for.parse_args()
    stored = torch.load(given.pads, map_location="cpu")
    pads = PadNet(**stored["config"])
    pads.load_state_dict(stored["weights"])
    pads = folded(pads)
    shipped = torch.load(given.paws, map_location="cpu")
    paws = PawNet(**shipped["config"]).eval()
    paws.load_state_dict({k: v.float() for k, v in shipped["weights"].items()})
    sets = {"photographs": read_labelled(given.labelled, only=lambda e: e["species"] == "dog" and is_validation(e["file"]))}
    if given.video:
        sets["video"] = read_labelled(given.video, only=lambda e: e.get("heldOut", False))
    result, drawn = {"label off, patch pixels": [round(float(v), 2) for v in stored["off"]]}, []
    for name, data in sets.items():
        found, parts = measure_paws(pads, stored["off"], paws, data)
        result[name] = {"pictures": len(data), **found, "no paws": measure_others(pads, data)}
        drawn.append(parts)
        for key, row in result[name].items():
            print(f"{name}, {key}: {json.dumps(row)}" if not isinstance(row, dict) else f"{name}, {key}:")
            for line, value in row.items() if isinstance(row, dict) else ():
                print(f"  {line:22}{json.dumps(value)}")
    if given.sheet:
        sheet(drawn, given.sheet)
    print(json.dumps(result))
