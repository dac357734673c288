"""Distances to many rounded cones at many points: the inner loops of both renderers.

On a GPU they run as Triton kernels, which hold all cones of a picture in cache; elsewhere as plain PyTorch, a cone at
a time, for tests. Both give the same numbers.
"""

import os

import torch

try:
    import triton
    import triton.language as tl
except ImportError:
    triton = None


def cone_distance(p, a, b, ra, rb):
    """Signed distance from p [n, m, 3] to one rounded cone per row, a, b [n, 3], radii [n]."""
    ab = b - a
    h = ((p - a[:, None]) * ab[:, None]).sum(-1) / (ab * ab).sum(-1, keepdim=True).clamp_min(1e-8)
    h = h.clamp(0, 1)
    r = ra[:, None] + (rb - ra)[:, None] * h
    return torch.linalg.norm(p - a[:, None] - ab[:, None] * h[..., None], dim=-1) - r


def smooth_surface(p, cones, blend):
    """Distance to all cones of a body run together: exponential smooth minimum of width blend [n, 1].

    cones [n, k, 8]: ends a and b, radii ra and rb.
    """
    if p.is_cuda or INTERPRETED:
        return launch(p, cones, blend)[0]
    total = 0
    for i in range(cones.shape[1]):
        d = cone_distance(p, cones[:, i, :3], cones[:, i, 3:6], cones[:, i, 6], cones[:, i, 7])
        total = total + torch.exp((-d / blend).clamp(-80, 80))
    return -blend * torch.log(total.clamp_min(1e-38))


def nearest(p, cones):
    """Distance to the nearest cone and which it is."""
    if p.is_cuda or INTERPRETED:
        return launch(p, cones, torch.ones(len(p), 1, device=p.device))[1:]
    best = torch.full(p.shape[:2], 1e9, device=p.device)
    which = torch.zeros(p.shape[:2], dtype=torch.long, device=p.device)
    for i in range(cones.shape[1]):
        d = cone_distance(p, cones[:, i, :3], cones[:, i, 3:6], cones[:, i, 6], cones[:, i, 7])
        which = torch.where(d < best, torch.full_like(which, i), which)
        best = torch.minimum(d, best)
    return best, which


def lay_strips(strips, wobble, size):
    """Which strip is in front at each pixel of size × size, how deep, and where on it.

    strips [n, k, 8]: ends in pixels (ax, ay, bx, by), radii in pixels (a radius under 0 is absent), depths.
    wobble [n, size²] scales the radii. Returns strip [n, size²] (−1 none), depth, along (0 to 1), across (−1 to 1).
    """
    if strips.is_cuda or INTERPRETED:
        return launch_strips(strips, wobble, size)
    n, device = strips.shape[0], strips.device
    j = torch.arange(size, device=device, dtype=torch.float32) + 0.5
    y, x = torch.meshgrid(j, j, indexing="ij")
    p = torch.stack([x.reshape(-1), y.reshape(-1)], -1)[None]
    depth = torch.full((n, size * size), 1e6, device=device)
    strip = torch.full((n, size * size), -1, dtype=torch.long, device=device)
    along, across = torch.zeros_like(depth), torch.zeros_like(depth)
    for i in range(strips.shape[1]):
        a, b = strips[:, i, None, 0:2], strips[:, i, None, 2:4]
        ra, rb, za, zb = (strips[:, i, None, c] for c in (4, 5, 6, 7))
        ab = b - a
        h = (((p - a) * ab).sum(-1) / (ab * ab).sum(-1).clamp_min(1e-4)).clamp(0, 1)
        r = (ra + (rb - ra) * h) * wobble
        off = p - a - ab * h[..., None]
        d = torch.linalg.norm(off, dim=-1)
        z = za + (zb - za) * h
        front = (d < r) & (z < depth)
        turn = off[..., 0] * ab[..., 1] - off[..., 1] * ab[..., 0]
        depth = torch.where(front, z, depth)
        strip = torch.where(front, torch.full_like(strip, i), strip)
        along = torch.where(front, h, along)
        across = torch.where(front, torch.sign(turn) * d / r.clamp_min(0.1), across)
    return strip, depth, along, across


INTERPRETED = triton is not None and os.environ.get("TRITON_INTERPRET") == "1"

if triton is not None:

    @triton.jit
    def cones_kernel(p_at, cones_at, blend_at, smooth_at, best_at, which_at, m, k, BLOCK: tl.constexpr):
        row = tl.program_id(1)
        at = tl.program_id(0) * BLOCK + tl.arange(0, BLOCK)
        ok = at < m
        base = (row.to(tl.int64) * m + at) * 3
        x = tl.load(p_at + base, ok, 0.0)
        y = tl.load(p_at + base + 1, ok, 0.0)
        z = tl.load(p_at + base + 2, ok, 0.0)
        blend = tl.load(blend_at + row)
        total = tl.zeros([BLOCK], tl.float32)
        best = tl.full([BLOCK], 1e9, tl.float32)
        which = tl.zeros([BLOCK], tl.int32)
        for i in range(k):
            c = cones_at + (row * k + i) * 8
            ax, ay, az = tl.load(c), tl.load(c + 1), tl.load(c + 2)
            bx, by, bz = tl.load(c + 3) - ax, tl.load(c + 4) - ay, tl.load(c + 5) - az
            ra, rb = tl.load(c + 6), tl.load(c + 7)
            dx, dy, dz = x - ax, y - ay, z - az
            h = (dx * bx + dy * by + dz * bz) / tl.maximum(bx * bx + by * by + bz * bz, 1e-8)
            h = tl.minimum(tl.maximum(h, 0.0), 1.0)
            dx, dy, dz = dx - bx * h, dy - by * h, dz - bz * h
            d = tl.sqrt(dx * dx + dy * dy + dz * dz) - (ra + (rb - ra) * h)
            total += tl.exp(tl.minimum(tl.maximum(-d / blend, -80.0), 80.0))
            closer = d < best
            which = tl.where(closer, i, which)
            best = tl.minimum(best, d)
        out = row.to(tl.int64) * m + at
        tl.store(smooth_at + out, -blend * tl.log(tl.maximum(total, 1e-38)), ok)
        tl.store(best_at + out, best, ok)
        tl.store(which_at + out, which, ok)

    @triton.jit
    def strips_kernel(strips_at, wobble_at, strip_at, depth_at, along_at, across_at, size, k, BLOCK: tl.constexpr):
        row = tl.program_id(1)
        at = tl.program_id(0) * BLOCK + tl.arange(0, BLOCK)
        ok = at < size * size
        x = (at % size).to(tl.float32) + 0.5
        y = (at // size).to(tl.float32) + 0.5
        out = row.to(tl.int64) * size * size + at
        wobble = tl.load(wobble_at + out, ok, 1.0)
        depth = tl.full([BLOCK], 1e6, tl.float32)
        strip = tl.full([BLOCK], -1, tl.int32)
        along = tl.zeros([BLOCK], tl.float32)
        across = tl.zeros([BLOCK], tl.float32)
        for i in range(k):
            c = strips_at + (row * k + i) * 8
            ax, ay = tl.load(c), tl.load(c + 1)
            bx, by = tl.load(c + 2) - ax, tl.load(c + 3) - ay
            ra, rb, za, zb = tl.load(c + 4), tl.load(c + 5), tl.load(c + 6), tl.load(c + 7)
            dx, dy = x - ax, y - ay
            h = (dx * bx + dy * by) / tl.maximum(bx * bx + by * by, 1e-4)
            h = tl.minimum(tl.maximum(h, 0.0), 1.0)
            dx, dy = dx - bx * h, dy - by * h
            r = (ra + (rb - ra) * h) * wobble
            d = tl.sqrt(dx * dx + dy * dy)
            z = za + (zb - za) * h
            front = (d < r) & (z < depth)
            turn = dx * by - dy * bx
            sign = tl.where(turn > 0, 1.0, tl.where(turn < 0, -1.0, 0.0))
            depth = tl.where(front, z, depth)
            strip = tl.where(front, i, strip)
            along = tl.where(front, h, along)
            across = tl.where(front, sign * d / tl.maximum(r, 0.1), across)
        tl.store(strip_at + out, strip, ok)
        tl.store(depth_at + out, depth, ok)
        tl.store(along_at + out, along, ok)
        tl.store(across_at + out, across, ok)


def launch(p, cones, blend):
    n, m, _ = p.shape
    p, cones, blend = p.contiguous().float(), cones.contiguous().float(), blend.contiguous().float()
    smooth, best = (torch.empty(n, m, device=p.device) for _ in range(2))
    which = torch.empty(n, m, dtype=torch.int32, device=p.device)
    block = 256
    cones_kernel[(triton.cdiv(m, block), n)](p, cones, blend, smooth, best, which, m, cones.shape[1], BLOCK=block)
    return smooth, best, which.long()


def launch_strips(strips, wobble, size):
    n = strips.shape[0]
    strips, wobble = strips.contiguous().float(), wobble.contiguous().float()
    depth, along, across = (torch.empty(n, size * size, device=strips.device) for _ in range(3))
    strip = torch.empty(n, size * size, dtype=torch.int32, device=strips.device)
    block = 256
    strips_kernel[(triton.cdiv(size * size, block), n)](
        strips, wobble, strip, depth, along, across, size, strips.shape[1], BLOCK=block
    )
    return strip.long(), depth, along, across
