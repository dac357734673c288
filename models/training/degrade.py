"""What a phone, a codec and things in the way do to a picture; all on the device, for a batch."""

import math

import torch
import torch.nn.functional as F

from bodies import Dice


def hide(picture, points, seen, photos_piece):
    """Lays poles and patches over the picture, most often over a paw; what they cover counts as hidden."""
    n, _, size, _ = picture.shape
    device = picture.device
    dice = Dice(n, device)
    u = dice.between
    j = torch.arange(size, device=device) + 0.5
    y, x = torch.meshgrid(j, j, indexing="ij")
    covered = torch.zeros(n, 1, size, size, dtype=torch.bool, device=device)
    for _ in range(2):
        # A paw of the two paw maps, or anywhere.
        k, q = torch.randint(0, 2, (n,), device=device), torch.randint(0, 2, (n,), device=device)
        rows = torch.arange(n, device=device)
        target = points[rows, k, q]
        target = torch.where((seen[rows, k, q] > 0)[:, None], target, torch.rand(n, 2, device=device) * size)
        target = target + torch.randn(n, 2, device=device) * 0.04 * size
        tilt = torch.where(torch.rand(n, device=device) < 0.5, dice.normal(0.25), math.pi / 2 + dice.normal(0.5))
        ux, uy = torch.cos(tilt)[:, None, None], torch.sin(tilt)[:, None, None]
        dx, dy = x - target[:, 0, None, None], y - target[:, 1, None, None]
        along, across = dx * ux + dy * uy, dx * uy - dy * ux
        half = u(0.006, 0.022)[:, None, None] * size
        reach = u(0.05, 0.6)[:, None, None] * size
        pole = (across.abs() < half) & (along > -reach * u(0.2, 1)[:, None, None]) & (along < reach)
        pole = pole & (dice.chance(0.3) > 0)[:, None, None]
        colour = torch.rand(n, 3, 1, 1, device=device)
        bands = ((along / size * u(6, 40)[:, None, None]).sin() > 0) & (dice.chance(0.4) > 0)[:, None, None]
        shade = (1 - 0.5 * (across / half).clamp(-1, 1) * u(-1, 1)[:, None, None])[:, None]
        paint = torch.where(bands[:, None], 1 - colour, colour) * shade
        picture = torch.where(pole[:, None], paint, picture)
        covered |= pole[:, None]
    corner, side = torch.rand(n, 2, device=device) * size, torch.rand(n, 2, device=device) * 0.35 * size
    patch = ((x - corner[:, 0, None, None]).abs() < side[:, 0, None, None] / 2) & (
        (y - corner[:, 1, None, None]).abs() < side[:, 1, None, None] / 2
    )
    patch = patch & (dice.chance(0.15) > 0)[:, None, None]
    picture = torch.where(patch[:, None], photos_piece, picture)
    covered |= patch[:, None]
    at = points.long().clamp(0, size - 1)
    rows = torch.arange(n, device=device)[:, None, None]
    under = covered[rows, 0, at[..., 1], at[..., 0]]
    return picture.clamp(0, 1), torch.where(under & (seen == 2), torch.ones_like(seen), seen)


def grow_grass(picture, points, seen, chance=0.12):
    """Blades of grass, straw or snow over the toes of some pictures; the paws stay where they are and count as seen."""
    n, _, size, _ = picture.shape
    device = picture.device
    dice = Dice(n, device)
    u = dice.between
    on = dice.chance(chance) > 0
    paws, shown = points[:, :2].flatten(1, 2), (seen[:, :2] > 0).flatten(1)
    j = torch.arange(size, device=device) + 0.5
    y, x = torch.meshgrid(j, j, indexing="ij")
    lean = dice.normal(0.4)[:, None, None]
    height = u(0.015, 0.07)[:, None, None] * size
    # Each column of the leaning blades has its own height and colour.
    blade = ((x + lean * (size - y)) % size).long().clamp(0, size - 1)
    tall = torch.gather(torch.rand(n, size, device=device), 1, blade.flatten(1)).view(n, size, size)
    tint = torch.gather(torch.rand(n, size, device=device), 1, ((blade * 7 + 3) % size).flatten(1)).view(n, size, size)
    cover = torch.zeros(n, size, size, dtype=torch.bool, device=device)
    for i in range(paws.shape[1]):
        dx, dy = x - paws[:, i, 0, None, None], y - paws[:, i, 1, None, None] - 0.02 * size
        patch = (dx.abs() < 0.09 * size) & (dy > -height * tall) & (dy < 0.05 * size) & (tall > u(0.0, 0.5)[:, None, None])
        cover |= patch & (shown[:, i] & on)[:, None, None]
    straw = torch.stack([u(0.2, 0.75), u(0.35, 0.75), u(0.1, 0.5)], -1)[:, :, None, None]
    straw = torch.where(dice.chance(0.15)[:, None, None, None] > 0, torch.full_like(straw, 0.9), straw)
    return torch.where(cover[:, None], (straw * (0.55 + 0.7 * tint[:, None])).clamp(0, 1), picture)


def light_room(picture, chance=0.15):
    """Lamps: a cast of their colour, a pool of light and darkness towards the edges."""
    n, _, size, _ = picture.shape
    device = picture.device
    dice = Dice(n, device)
    u = lambda low, high: dice.between(low, high)[:, None, None, None]  # noqa: E731
    j = (torch.arange(size, device=device) + 0.5) / size
    y, x = torch.meshgrid(j, j, indexing="ij")
    away = ((x[None, None] - u(-0.2, 1.2)) ** 2 + (y[None, None] - u(-0.3, 1.0)) ** 2) / u(0.05, 0.6)
    warmth = u(-0.25, 0.25)
    cast = torch.cat([1 + warmth, 1 + u(-0.04, 0.1), 1 - warmth], 1)
    lit = picture * cast * (u(0.6, 0.95) + u(0.1, 0.6) * torch.exp(-away))
    return torch.where(dice.chance(chance)[:, None, None, None] > 0, lit.clamp(0, 1), picture)


def cosines(device):
    """The 8 × 8 cosine transform, orthonormal: a matrix to apply along rows and along columns."""
    k = torch.arange(8, device=device, dtype=torch.float32)
    basis = torch.cos((2 * k[None] + 1) * k[:, None] * math.pi / 16) / 2
    basis[0] /= math.sqrt(2)
    return basis


def compress(picture, strength):
    """Rounds the coefficients of 8 × 8 blocks, coarser for finer detail, as JPEG and video codecs do."""
    n, c, h, w = picture.shape
    basis = cosines(picture.device)
    k = torch.arange(8, device=picture.device, dtype=torch.float32)
    step = (strength[:, None, None] * (1 + k[:, None] + k[None]) / 4).view(n, 1, 1, 8, 1, 8)
    blocks = picture.reshape(n, c, h // 8, 8, w // 8, 8)
    blocks = torch.einsum("ua,ncyaxb,vb->ncyuxv", basis, blocks, basis)
    blocks = torch.round(blocks / step) * step
    return torch.einsum("ua,ncyuxv,vb->ncyaxb", basis, blocks, basis).reshape(n, c, h, w)


def smear(picture, shift, taps=7):
    """Mean of `taps` copies along a line of ±shift [n, 2] pixels: what movement does during the exposure."""
    n, _, h, w = picture.shape
    j = torch.arange(h, device=picture.device) + 0.5
    y, x = torch.meshgrid(j, j, indexing="ij")
    place = torch.stack([x / w, y / h], -1)[None] * 2 - 1
    step = shift[:, None, None] * 2 / w
    total = 0
    for i in range(taps):
        at = place + step * (2 * i / (taps - 1) - 1)
        total = total + F.grid_sample(picture, at, align_corners=False, padding_mode="border")
    return total / taps


def degrade(picture, farthest=9):
    """Exposure, colour, blur, shrinking, compression and noise. Picture [n, 3, s, s], s a multiple of 8.

    The first third is smeared, by up to ±`farthest` pixels, and the second half compressed: give the batch in random order.
    """
    n, _, size, _ = picture.shape
    device = picture.device
    dice = Dice(n, device)
    u = lambda low, high: dice.between(low, high)[:, None, None, None]  # noqa: E731
    often = lambda p: dice.chance(p)[:, None, None, None] > 0  # noqa: E731
    x = light_room(picture.clamp(0, 1)) ** u(0.6, 1.6)
    x = (x - 0.5) * u(0.6, 1.3) + 0.5 + u(-0.16, 0.16)
    x = x * (1 + torch.randn(n, 3, 1, 1, device=device) * 0.07)
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * torch.where(often(0.12), torch.zeros_like(u(0, 1)), u(0.4, 1.5))
    mixed = x[:, torch.randperm(3, device=device)]
    x = torch.where(often(0.08), mixed, x)
    x = torch.where(often(0.06), x * u(0.12, 0.4), x)
    # A third of the pictures moved during the exposure, mostly sideways.
    some = n // 3
    tilt, reach = torch.randn(some, device=device) * 0.35, torch.rand(some, device=device) ** 2 * farthest
    moved = smear(x[:some], torch.stack([torch.cos(tilt) * reach, torch.sin(tilt) * reach], -1))
    x = torch.cat([moved, x[some:]])
    half = F.interpolate(F.avg_pool2d(x, 2), size=(size, size), mode="bilinear")
    quarter = F.interpolate(F.avg_pool2d(x, 4), size=(size, size), mode="bilinear")
    pick = torch.rand(n, 1, 1, 1, device=device)
    x = torch.where(pick < 0.25, half, torch.where(pick < 0.3, quarter, x))
    x = x + torch.randn_like(x) * u(0, 1) ** 2 * 0.09
    some = n // 2
    strength = torch.rand(some, device=device) * 0.12 + 0.01
    x = torch.cat([x[:-some], compress(x[-some:].clamp(0, 1), strength)])
    return x.clamp(0, 1)
