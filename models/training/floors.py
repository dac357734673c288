"""What a dog goes over in pole work, drawn on the ground plane: turf, rubber, boards, and plain earth or concrete."""

import torch
import torch.nn.functional as F

KINDS = ["earth", "turf", "rubber", "boards"]


def noise(sheet, at, scale):
    """Smooth noise [n, m, 3] at ground places [n, m, 2]; scale [n, 2] in sheets per metre along and across."""
    where = ((at * scale[:, None]) % 2) - 1
    return F.grid_sample(sheet, where[:, :, None], align_corners=False)[..., 0].transpose(1, 2)


def scrambled(whole):
    """0 to 1, looking random, from whole numbers."""
    return (torch.sin(whole * 127.1 + 11.7) * 43758.5453).abs() % 1.0


def draw_floor(ground, sheets, dice):
    """Colours [n, m, 3] at places [n, m, 2] in metres; sheets [k, 3, h, w] hold noise."""
    n, device = ground.shape[0], ground.device
    u = dice.between
    row = lambda v: v[:, None, None]  # noqa: E731
    sheet = sheets[dice.pick(len(sheets))]
    turn = u(0, 6.28)
    c, s = torch.cos(turn)[:, None], torch.sin(turn)[:, None]
    at = torch.stack([ground[..., 0] * c + ground[..., 1] * s, ground[..., 1] * c - ground[..., 0] * s], -1).clamp(-60, 60)
    even = lambda low, high: u(low, high)[:, None].expand(n, 2)  # noqa: E731
    rough = sum(noise(sheet, at, even(0.6, 1.6) * scale) * row(u(0.1, 0.6)) for scale in (0.15, 0.6, 2.3, 7.0))
    fine = noise(sheet, at, even(5.0, 12.0))

    plain = torch.rand(n, 1, 3, device=device) * 0.55 + torch.tensor([0.15, 0.18, 0.1], device=device)
    earth = plain * (1 + 0.35 * rough[..., :1]) + 0.04 * rough

    green = torch.stack([u(0.15, 0.5), u(0.32, 0.62), u(0.08, 0.3)], -1)[:, None]
    blades = noise(sheet, at, torch.stack([u(9.0, 16.0), u(3.0, 6.0)], -1))
    turf = green * (1 + 0.25 * rough[..., :1] + row(u(0.1, 0.35)) * blades[..., :1]) + 0.05 * blades

    grey = u(0.06, 0.35)[:, None, None] * (1 + torch.rand(n, 1, 3, device=device) * dice.chance(0.3)[:, None, None])
    tile = u(0.4, 1.1)[:, None]
    from_seam = ((at / tile[..., None] + 0.5) % 1.0 - 0.5).abs().amin(-1) * tile
    seam = torch.exp(-((from_seam / 0.008) ** 2)) * u(0.0, 0.6)[:, None] * dice.chance(0.6)[:, None]
    speck = (fine[..., 1] > u(1.2, 2.2)[:, None]).float()[..., None] * torch.rand(n, 1, 3, device=device) * 0.6
    rubber = (grey * (1 + 0.1 * rough[..., :1] + 0.08 * fine[..., :1]) + speck) * (1 - seam[..., None])

    wide = u(0.06, 0.22)[:, None]
    across = at[..., 1] / wide
    board = torch.floor(across)
    light = 0.75 + 0.5 * scrambled(board) * row(u(0.2, 1.0))[..., 0]
    veins = noise(sheet, at + board[..., None] * 3.7, torch.stack([u(0.3, 0.8), u(6.0, 14.0)], -1))
    gap = torch.exp(-((((across % 1.0) - 0.5).abs() - 0.5) * wide / 0.004) ** 2) * u(0.2, 0.8)[:, None]
    wood = torch.stack([u(0.35, 0.75), u(0.22, 0.5), u(0.1, 0.32)], -1)[:, None]
    boards = wood * (light + 0.14 * veins[..., 0])[..., None] * (1 - gap[..., None])

    kind = dice.pick(len(KINDS))[:, None, None]
    floor = torch.where(kind == 0, earth, torch.where(kind == 1, turf, torch.where(kind == 2, rubber, boards)))
    return floor.clamp(0, 1)
