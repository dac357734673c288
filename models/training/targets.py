"""What the maps should look like for given points, and how much each cell counts."""

import torch

from maps import HEAT, LABELS, OTHER_ENDS, STRIDE, TRAITS

# Spread of a point's bump, in cells.
SPREAD = 1.5
# Around a hidden point the place is a guess: its cells count for less.
HIDDEN_WEIGHT = 0.4
COUNTS = [len(LABELS[m]) for m in HEAT]


def distances(points, side):
    """Squared distance in cells of every cell from every point: [n, maps, 2, side, side]."""
    j = torch.arange(side, device=points.device) + 0.5
    y, x = torch.meshgrid(j, j, indexing="ij")
    p = points / STRIDE
    return (x - p[..., 0, None, None]) ** 2 + (y - p[..., 1, None, None]) ** 2


def heat_targets(points, seen, side, all_labelled, box=None, animals=1):
    """Bumps and weights [n, maps, side, side].

    all_labelled: true where a missing point means that there is none (rendered pictures). Otherwise a map with a
    missing point counts only near the labelled one, and, faintly, outside the animal's box. animals: how many are in
    each picture, [n] or one number for all.
    """
    n, device = points.shape[0], points.device
    d2 = distances(points, side)
    here = (seen > 0)[..., None, None]
    heat = (torch.exp(-d2 / (2 * SPREAD**2)) * here).amax(2)
    count = torch.tensor(COUNTS, device=device)
    labelled = (seen != 0).sum(2)
    count = count * torch.as_tensor(animals, device=device).view(-1, 1)
    full = (labelled == count) | torch.as_tensor(all_labelled, device=device).view(-1, 1)
    base = torch.where(full, 1.0, torch.where(labelled > 0, 0.15, 0.0))[..., None, None].expand(n, len(HEAT), side, side)
    weight = base.clone()
    if box is not None:
        j = (torch.arange(side, device=device) + 0.5) * STRIDE
        slack = 0.08 * (box[:, 2:] - box[:, :2]).amax(1)[:, None]
        out_x = (j < box[:, 0, None] - slack) | (j > box[:, 2, None] + slack)
        out_y = (j < box[:, 1, None] - slack) | (j > box[:, 3, None] + slack)
        outside = (out_x[:, None, :] | out_y[:, :, None])[:, None]
        weight = torch.where(outside & (weight < 0.3), torch.full_like(weight, 0.3), weight)
    near = here & (d2 < 30)
    weight = torch.where(near.any(2), torch.ones_like(weight), weight)
    # A seen fore paw is no hind paw, whether or not the hind paws are labelled.
    other = ((seen == 2)[..., None, None] & (d2 < 6)).any(2)[:, [HEAT.index(m) for m in OTHER_ENDS]]
    weight = torch.where(other, torch.ones_like(weight), weight)
    unsure = (seen == 1)[..., None, None] & (d2 < 30)
    return heat, torch.where(unsure.any(2), weight.clamp(max=HIDDEN_WEIGHT), weight)


def trait_targets(points, seen, traits, side):
    """Targets and weights [n, 3, side, side] of contact, far and left: discs around the points that have an answer.

    traits: in that order, each [n, maps, 2] of 1, 0 or −1 (no answer).
    """
    d2 = distances(points, side)
    targets, weights = [], []
    for value in traits:
        disc = (d2 < 5) & ((seen > 0) & (value >= 0))[..., None, None]
        closest = torch.where(disc, d2, torch.full_like(d2, 1e6)).flatten(1, 2)
        which = closest.argmin(1, keepdim=True)
        answer = value.flatten(1)[..., None, None].expand_as(closest)
        targets.append(torch.gather(answer, 1, which)[:, 0].clamp(0, 1))
        weights.append(disc.flatten(1, 2).any(1).float())
    return torch.stack(targets, 1), torch.stack(weights, 1)


BONES = [("elbow", "carpus"), ("carpus", "forePaw"), ("stifle", "hock"), ("hock", "hindPaw"), ("elbow", "stifle")]


def mask_from_labels(points, seen, box, side):
    """Dog mask of a photograph, as far as its labels tell: along the bones yes, outside the box no, else unknown."""
    n, device = points.shape[0], points.device
    j = (torch.arange(side, device=device) + 0.5) * STRIDE
    y, x = torch.meshgrid(j, j, indexing="ij")
    p = torch.stack([x, y], -1).view(1, -1, 2)
    yes = torch.zeros(n, side * side, dtype=torch.bool, device=device)
    for one, other in BONES:
        for q in range(2):
            a, b = points[:, HEAT.index(one), q], points[:, HEAT.index(other), q]
            both = (seen[:, HEAT.index(one), q] == 2) & (seen[:, HEAT.index(other), q] == 2)
            ab = (b - a)[:, None]
            h = (((p - a[:, None]) * ab).sum(-1) / (ab * ab).sum(-1).clamp_min(1e-3)).clamp(0, 1)
            d = torch.linalg.norm(p - a[:, None] - ab * h[..., None], dim=-1)
            yes |= (d < STRIDE * 0.9) & both[:, None]
    slack = 0.05 * (box[:, 2:] - box[:, :2]).amax(1)[:, None]
    out_x = (j < box[:, 0, None] - slack) | (j > box[:, 2, None] + slack)
    out_y = (j < box[:, 1, None] - slack) | (j > box[:, 3, None] + slack)
    outside = out_x[:, None, :] | out_y[:, :, None]
    yes = yes.view(n, side, side) & ~outside
    return yes.float()[:, None], (yes | outside).float()[:, None]


assert TRAITS == ["contact", "far", "left", "dog"]
