"""Labelled photographs and frames: reading them, splitting off a validation set, and cutting random crops.

The label format is described in README.md. All pictures of a set are kept on the device as bytes.
"""

import json
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.nn.functional as F

from bodies import Dice
from maps import HEAT, LABELS
from scenes import photo_ground

# Side of the stored square and the longest side of a picture in it; the rest is filled.
CANVAS, PICTURE = 320, 270


@dataclass
class Labelled:
    """n pictures with labels; points in canvas pixels."""

    pictures: torch.Tensor  # [n, 3, CANVAS, CANVAS] bytes, the surroundings filled from the edges
    inside: torch.Tensor  # [n, 1, CANVAS, CANVAS] bytes, 1 where the picture is
    points: torch.Tensor  # [n, maps, 2, 2]
    seen: torch.Tensor  # [n, maps, 2]: 2 seen, 1 hidden, 0 not labelled
    contact: torch.Tensor  # [n, maps, 2]: 1, 0, −1 not labelled
    box: torch.Tensor  # [n, 4]: left, top, right, bottom of the animal
    far: torch.Tensor  # [n, maps, 2]
    sided: torch.Tensor  # [n]: left and right were told apart
    names: list
    cover: torch.Tensor = None  # [n, 1, CANVAS / 4, CANVAS / 4]: where a network sees the animal, to cut it out

    def __len__(self):
        return len(self.names)


def read_labelled(folder, device="cpu", only=None):
    """Reads labels.json and its pictures; `only` filters entries."""
    folder = Path(folder)
    entries = json.loads((folder / "labels.json").read_text())["images"]
    entries = [e for e in entries if only is None or only(e)]
    n = len(entries)
    pictures = np.zeros((n, CANVAS, CANVAS, 3), np.uint8)
    inside = np.zeros((n, CANVAS, CANVAS), np.uint8)
    points = np.zeros((n, len(HEAT), 2, 2), np.float32)
    seen = np.zeros((n, len(HEAT), 2), np.int64)
    contact = np.full((n, len(HEAT), 2), -1, np.float32)
    box = np.zeros((n, 4), np.float32)
    sided = np.array([e.get("sides", True) for e in entries], bool)

    def read(i):
        e = entries[i]
        photo = cv2.cvtColor(cv2.imread(str(folder / e["file"])), cv2.COLOR_BGR2RGB)
        scale = PICTURE / max(photo.shape[:2])
        way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
        small = cv2.resize(photo, None, fx=scale, fy=scale, interpolation=way)
        h, w = small.shape[:2]
        top, left = (CANVAS - h) // 2, (CANVAS - w) // 2
        pictures[i] = surround(small, top, left)
        inside[i, top : top + h, left : left + w] = 1
        fx, fy = w / e["w"], h / e["h"]
        for k, name in enumerate(HEAT):
            for q, label in enumerate(LABELS[name]):
                if label in e.get("kp", {}):
                    x, y, v = e["kp"][label]
                    points[i, k, q] = x * fx + left, y * fy + top
                    seen[i, k, q] = v
                if label in e.get("contact", {}):
                    contact[i, k, q] = e["contact"][label]
        x0, y0, x1, y1 = e["box"]
        box[i] = x0 * fx + left, y0 * fy + top, x1 * fx + left, y1 * fy + top

    with ThreadPoolExecutor(16) as pool:
        list(pool.map(read, range(n)))
    names = [f"{e['species']}|{e['file']}" for e in entries]
    tensor = lambda a: torch.from_numpy(a).to(device)  # noqa: E731
    pictures = tensor(pictures).permute(0, 3, 1, 2).contiguous()
    points, seen, box, sided = tensor(points), tensor(seen), tensor(box), tensor(sided)
    far = far_side(points, seen, box)
    far = torch.where(sided[:, None, None], far, torch.full_like(far, -1))
    return Labelled(pictures, tensor(inside)[:, None], points, seen, tensor(contact), box, far, sided, names)


def surround(small, top, left):
    """The picture on the canvas, its edges drawn out and ever more blurred: no mirrored second set of legs."""
    h, w = small.shape[:2]
    whole = cv2.copyMakeBorder(
        small, top, CANVAS - h - top, left, CANVAS - w - left, cv2.BORDER_REPLICATE
    )
    soft = cv2.GaussianBlur(whole, (0, 0), 6)
    whole_soft = soft.copy()
    whole_soft[top : top + h, left : left + w] = small
    return whole_soft


def far_side(points, seen, box):
    """For animals seen from the side, which of each pair is away from the camera; −1 where that means nothing.

    An animal that faces right in the picture shows its right side.
    """
    length = (box[:, 2:] - box[:, :2]).amax(1)

    def middle(names):
        x = torch.stack([points[:, HEAT.index(m), q, 0] for m in names for q in range(len(LABELS[m]))], 1)
        v = torch.stack([seen[:, HEAT.index(m), q] for m in names for q in range(len(LABELS[m]))], 1) > 0
        return (x * v).sum(1) / v.sum(1).clamp_min(1), v.any(1)

    front, has_front = middle(["nose", "elbow", "carpus", "forePaw"])
    back, has_back = middle(["tailBase", "stifle", "hock", "hindPaw"])
    across = has_front & has_back & ((front - back).abs() > 0.38 * length)
    right = front > back
    far = torch.full(seen.shape, -1.0, device=seen.device)
    left_is_far = torch.stack([right, ~right], -1).float()[:, None].expand(-1, len(HEAT), -1)
    pair = torch.tensor([len(LABELS[m]) == 2 for m in HEAT], device=seen.device)[None, :, None]
    return torch.where(across[:, None, None] & pair, left_is_far, far)


def breed_of(name):
    found = re.search(r"n\d{8}", name)
    return found.group() if found else name


def is_validation(file):
    """One breed in ten and one photograph in twenty of the others are never trained on."""
    key = lambda s: int.from_bytes(s.encode(), "little") * 2654435761 % 4294967296 / 4294967296  # noqa: E731
    return key(breed_of(file)[-6:]) < 0.1 or key(Path(file).stem[-8:]) < 0.05


def cut_crops(data, photos, n, size, chosen=None, gentle=False):
    """n random crops as the pipeline would make them, bigger, smaller, turned and mirrored.

    Returns picture, points, seen, contact, far, left, box (all in crop pixels), the rows they came from, and the
    animal's cover [n, 1, size, size] (None where the data have none).
    """
    device = data.pictures.device
    dice = Dice(n, device)
    u = dice.between
    rows = torch.randint(0, len(data), (n,), device=device) if chosen is None else chosen
    box = data.box[rows]
    centre, length = (box[:, :2] + box[:, 2:]) / 2, (box[:, 2:] - box[:, :2]).amax(1)
    if gentle:
        share, turn, mirror, stretch = torch.full((n,), 0.8, device=device), u(0, 0), torch.ones(n, device=device), u(1, 1)
        shift = torch.zeros(n, 2, device=device)
    else:
        share = torch.where(torch.rand(n, device=device) < 0.1, u(0.2, 0.5), u(0.5, 1.02))
        turn = torch.where(torch.rand(n, device=device) < 0.15, dice.normal(0.45), dice.normal(0.13))
        stretch = 1 + dice.normal(0.09)
        mirror = torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
        slack = ((1 / share - 1).clamp(0, 3) * 0.5 + 0.06)[:, None] * length[:, None]
        shift = (torch.rand(n, 2, device=device) * 2 - 1) * slack
    zoom = length / (share * size)  # canvas pixels per crop pixel
    c, s = torch.cos(turn) * zoom, torch.sin(turn) * zoom
    # Crop pixel, from the middle → canvas pixel.
    linear = torch.stack(
        [torch.stack([c * mirror * stretch, -s], -1), torch.stack([s * mirror * stretch, c], -1)], 1
    )
    middle = centre + shift
    j = torch.arange(size, device=device) + 0.5 - size / 2
    y, x = torch.meshgrid(j, j, indexing="ij")
    grid = torch.einsum("nij,hwj->nhwi", linear, torch.stack([x, y], -1)) + middle[:, None, None]
    grid = grid / CANVAS * 2 - 1
    sampled = F.grid_sample(
        data.pictures[rows].float() / 255, grid, align_corners=False, padding_mode="border"
    )
    inside = F.grid_sample(data.inside[rows].float(), grid, align_corners=False, padding_mode="zeros")
    cover = None
    if data.cover is not None:
        cover = F.grid_sample(data.cover[rows].float(), grid, align_corners=False, padding_mode="zeros")
    if not gentle:
        # Half of the time the surroundings are a piece of another photograph, joined more or less softly.
        reach = 2 * int(torch.randint(0, 5, ()).item()) + 1
        soft = F.avg_pool2d(inside, reach, 1, reach // 2, count_include_pad=False) if reach > 1 else inside
        soft = (soft * 2 - 1).clamp(0, 1) if reach > 1 else soft
        other = photo_ground(photos, n, size)
        sampled = torch.where(dice.chance(0.5)[:, None, None, None] > 0, sampled * soft + other * (1 - soft), sampled)
    # By hand: the library's inverse waits for the device to look for singular ones.
    determinant = linear[:, 0, 0] * linear[:, 1, 1] - linear[:, 0, 1] * linear[:, 1, 0]
    inverse = torch.stack(
        [
            torch.stack([linear[:, 1, 1], -linear[:, 0, 1]], -1),
            torch.stack([-linear[:, 1, 0], linear[:, 0, 0]], -1),
        ],
        1,
    ) / determinant.view(-1, 1, 1)
    to_crop = lambda p: torch.einsum("nij,n...j->n...i", inverse, p - middle.view(n, *[1] * (p.dim() - 2), 2)) + size / 2  # noqa: E731
    points = to_crop(data.points[rows])
    seen = data.seen[rows]
    within = ((points > 1) & (points < size - 2)).all(-1)
    seen = torch.where(within | (seen == 0), seen, torch.full_like(seen, -1))
    corners = to_crop(torch.stack([box[:, [0, 1]], box[:, [2, 1]], box[:, [2, 3]], box[:, [0, 3]]], 1))
    crop_box = torch.cat([corners.amin(1), corners.amax(1)], 1)
    left = torch.where(
        (seen != 0)
        & data.sided[rows][:, None, None]
        & torch.tensor([len(LABELS[m]) == 2 for m in HEAT], device=device)[None, :, None],
        torch.tensor([1.0, 0.0], device=device).expand_as(seen),
        torch.full(seen.shape, -1.0, device=device),
    )
    left = torch.where((mirror < 0)[:, None, None] & (left >= 0), 1 - left, left)
    return sampled, points, seen, data.contact[rows], data.far[rows], left, crop_box, rows, cover


@torch.no_grad()
def find_covers(data, net, size):
    """Lets a network say where the animal is in every picture, so that it can be cut out of it."""
    covers = []
    for i in range(0, len(data), 64):
        picture = F.interpolate(data.pictures[i : i + 64].float() / 255, size=(size, size), mode="bilinear")
        covers.append(torch.sigmoid(net(picture).float())[:, -1:])
    data.cover = F.interpolate(torch.cat(covers), size=(CANVAS // 4, CANVAS // 4), mode="bilinear")


def sharpened(cover, points, seen, size):
    """A cover to cut along: its edge drawn a little outwards, and every seen point kept with what is around it."""
    small = F.max_pool2d(F.interpolate(cover, scale_factor=0.25, mode="area"), 3, 1, 1)
    j = (torch.arange(small.shape[-1], device=cover.device) + 0.5) * 4
    y, x = torch.meshgrid(j, j, indexing="ij")
    d2 = (x - points[..., 0, None, None]) ** 2 + (y - points[..., 1, None, None]) ** 2
    discs = ((d2 < (0.035 * size) ** 2) & (seen == 2)[..., None, None]).flatten(1, 2).any(1)[:, None].float()
    cut = F.interpolate(torch.maximum(small, discs), size=cover.shape[2:], mode="bilinear")
    return ((cut - 0.4) * 4).clamp(0, 1)
