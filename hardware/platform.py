#!/usr/bin/env python3
"""Draws the platform: a weighed pot ring on four legs around a stockpot stove that stands free.

Two views, front in section and from above, at one scale; lengths in millimetres. Only the standard
library. Change the numbers below and run hardware/draw.sh.
"""

# Lengths, mm.
POT_D, POT_H = 400, 400
STOVE_W, STOVE_H = 460, 420
RING_GAP = 20          # pot ring above the stove's own grate
FRAME_W = 720          # base frame, outside
TUBE = 40              # square tube of frame and legs
CELL_H, FOOT_H = 32, 28
LEG_PITCH = 680        # between leg centres
BAR_H = 40             # bars of the pot ring, on edge
SHIELD_GAP = 25        # air between the two sheets
SHIELD_H = 300

SCALE = 0.62
LETTERS = 1.25         # large enough to be read at half the drawing's size
INK, STEEL, WATER, HEAT, CELL = "#222", "#d9dcdf", "#bcd9ee", "#c8451b", "#2f6f3e"

parts = []


def put(text):
    parts.append(text)


def rect(x, y, w, h, fill=STEEL, stroke=INK, dash="", width=1.2):
    d = f' stroke-dasharray="{dash}"' if dash else ""
    put(f'<rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}" fill="{fill}" '
        f'stroke="{stroke}" stroke-width="{width}"{d}/>')


def line(x1, y1, x2, y2, stroke=INK, width=1.2, dash=""):
    d = f' stroke-dasharray="{dash}"' if dash else ""
    put(f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{stroke}" '
        f'stroke-width="{width}"{d}/>')


def text(x, y, words, size=13, anchor="start", fill=INK, weight="normal", turn=0):
    t = f' transform="rotate({turn} {x:.1f} {y:.1f})"' if turn else ""
    put(f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size * LETTERS:.1f}" text-anchor="{anchor}" fill="{fill}" '
        f'font-weight="{weight}"{t}>{words}</text>')


def arrow(x, y, dx, dy):
    """A small arrow head at x, y that points along dx, dy."""
    px, py = -dy, dx
    put(f'<path d="M{x:.1f} {y:.1f} l{-7*dx+2.5*px:.1f} {-7*dy+2.5*py:.1f} '
        f'l{-5*px:.1f} {-5*py:.1f} z" fill="{INK}"/>')


def across(x1, x2, y, length, label=None):
    line(x1, y, x2, y, width=0.8)
    arrow(x1, y, -1, 0)
    arrow(x2, y, 1, 0)
    for x in (x1, x2):
        line(x, y - 6, x, y + 6, width=0.8)
    text((x1 + x2) / 2, y - 5, label or f"{length:.0f}", 12, "middle")


def upright(x, y1, y2, length, side=-1):
    line(x, y1, x, y2, width=0.8)
    arrow(x, y1, 0, -1)
    arrow(x, y2, 0, 1)
    for y in (y1, y2):
        line(x - 6, y, x + 6, y, width=0.8)
    text(x + side * 7, (y1 + y2) / 2, f"{length:.0f}", 12, "middle", turn=-90)


def mark(number, x, y, tx, ty):
    """A numbered balloon with a leader to x, y."""
    line(x, y, tx, ty, width=0.8)
    put(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.2" fill="{INK}"/>')
    put(f'<circle cx="{tx:.1f}" cy="{ty:.1f}" r="13" fill="white" stroke="{INK}" stroke-width="1"/>')
    text(tx, ty + 5, str(number), 12, "middle", weight="bold")


def front(cx, floor):
    s = SCALE
    half = LEG_PITCH / 2 * s
    frame_top = floor - TUBE * s
    cell_top = frame_top - CELL_H * s
    leg_foot = cell_top - FOOT_H * s
    ring_bottom = floor - (STOVE_H + RING_GAP) * s
    ring_top = ring_bottom - BAR_H * s
    # Floor, base frame, stove.
    line(cx - 355, floor, cx + 355, floor, width=2)
    for x in range(int(cx - 355), int(cx + 355), 14):
        line(x, floor + 9, x + 9, floor, width=0.6)
    rect(cx - FRAME_W / 2 * s, frame_top, FRAME_W * s, TUBE * s)
    rect(cx - STOVE_W / 2 * s, floor - STOVE_H * s, STOVE_W * s, STOVE_H * s - 2, fill="#f3f3f1")
    text(cx, floor - STOVE_H * s + 150, "stove, stands free", 12.5, "middle")
    text(cx, floor - STOVE_H * s + 172, "on the floor", 12.5, "middle")
    # Flame.
    for k in range(-3, 4):
        x = cx + k * 17
        put(f'<path d="M{x-6:.1f} {floor - STOVE_H*s + 26:.1f} q6 -16 6 -32 q0 16 6 32 z" '
            f'fill="none" stroke="{HEAT}" stroke-width="1.4"/>')
    # Heat shields: two sheets with air between, drip edge outward.
    for side in (-1, 1):
        inner = cx + side * (STOVE_W / 2 + 22) * s
        outer = inner + side * SHIELD_GAP * s
        foot = frame_top - 4
        line(inner, foot - SHIELD_H * s, inner, foot, stroke="#777", width=2)
        line(outer, foot - SHIELD_H * s, outer, foot, stroke="#777", width=2)
    # Legs, cells, feet, hoods.
    for side in (-1, 1):
        x = cx + side * half
        # The beam cell lies along the side tube and is seen from its free end.
        rect(x - 11, cell_top + 3, 22, CELL_H * s - 6, fill="#cfe6d3", stroke=CELL, width=1.6)
        # Overload stop under the free end.
        line(x, frame_top, x, frame_top - 1.5, width=5)
        # Ball and cup.
        put(f'<circle cx="{x:.1f}" cy="{cell_top - 3:.1f}" r="6.5" fill="white" '
            f'stroke="{INK}" stroke-width="1.3"/>')
        rect(x - 14, leg_foot, 28, FOOT_H * s - 9)
        # Leg.
        rect(x - TUBE / 2 * s, ring_top, TUBE * s, leg_foot - ring_top)
        # Hood with drip edge over the cell.
        hood = leg_foot - 6
        put(f'<path d="M{x-32:.1f} {hood+24:.1f} v-16 l8 -9 h48 l8 9 v16" fill="none" '
            f'stroke="#777" stroke-width="2"/>')
        # Tipping stop: a hook from the frame over the foot's collar.
        hx = x + side * 38
        put(f'<path d="M{x + side*12:.1f} {frame_top + 6:.1f} H{hx:.1f} V{leg_foot - 24:.1f} '
            f'H{x + side*16:.1f}" fill="none" stroke="{INK}" stroke-width="3"/>')
        line(x - 16, leg_foot - 19, x + 16, leg_foot - 19, width=3)
    # Ring and pot.
    rect(cx - half, ring_top, 2 * half, BAR_H * s)
    pot_w = POT_D * s
    rect(cx - pot_w / 2, ring_top - POT_H * s, pot_w, POT_H * s, fill="white", width=2)
    rect(cx - pot_w / 2 + 2, ring_top - POT_H * s * 0.7, pot_w - 4, POT_H * s * 0.7 - 2,
         fill=WATER, stroke="none")
    text(cx, ring_top - POT_H * s * 0.35, "pot", 14, "middle")
    # Load path.
    for side in (-1, 1):
        x = cx + side * half
        put(f'<path d="M{cx + side*60:.1f} {ring_top+12:.1f} H{x:.1f} V{frame_top-8:.1f}" fill="none" '
            f'stroke="{CELL}" stroke-width="2.4" stroke-dasharray="7 4"/>')
    # Lengths.
    across(cx - half, cx + half, floor + 40, LEG_PITCH, f"{LEG_PITCH} between cells' loads")
    across(cx - FRAME_W / 2 * s, cx + FRAME_W / 2 * s, floor + 66, FRAME_W, f"{FRAME_W} base frame")
    across(cx - STOVE_W / 2 * s, cx + STOVE_W / 2 * s, floor - 26, STOVE_W, f"{STOVE_W} stove at most")
    upright(cx - 345, ring_top, floor, STOVE_H + RING_GAP + BAR_H)
    upright(cx + 312, frame_top - 4 - SHIELD_H * s, frame_top - 4, SHIELD_H, 1)
    across(cx - pot_w / 2, cx + pot_w / 2, ring_top - POT_H * s - 14, POT_D, f"Ø {POT_D} pot")
    # Marks.
    mark(1, cx + 150, ring_top + 12, cx + 225, ring_top - 70)
    mark(2, cx + half, ring_top + 130, cx + 290, ring_top + 70)
    mark(3, cx - half - 5, cell_top - 3, cx - 300, floor - 105)
    mark(4, cx - half - 8, cell_top + 12, cx - 300, floor + 38)
    mark(5, cx - (STOVE_W / 2 + 22 + SHIELD_GAP) * s, floor - 190, cx - 255, floor - 262)
    mark(6, cx + half + 32, leg_foot + 14, cx + 284, floor - 130)
    mark(7, cx + half, frame_top - 1, cx + 300, floor + 38)
    mark(8, cx - half - 38, leg_foot - 14, cx - 300, floor - 160)
    mark(9, cx - 100, ring_bottom + 7, cx - 170, ring_top - 60)


def above(cx, cy):
    s = SCALE
    half_frame = FRAME_W / 2 * s
    half = LEG_PITCH / 2 * s
    rect(cx - half_frame, cy - half_frame, 2 * half_frame, 2 * half_frame, fill="none")
    t = TUBE * s
    rect(cx - half_frame + t, cy - half_frame + t, 2 * half_frame - 2 * t, 2 * half_frame - 2 * t,
         fill="none")
    rect(cx - STOVE_W / 2 * s, cy - STOVE_W / 2 * s, STOVE_W * s, STOVE_W * s, fill="#f3f3f1",
         dash="6 4")
    put(f'<circle cx="{cx}" cy="{cy}" r="{100*s:.1f}" fill="none" stroke="{HEAT}" '
        f'stroke-width="1.4" stroke-dasharray="3 3"/>')
    # Pot ring: a square of bars through the legs and two bars across under the pot.
    leg = half
    for a in (-1, 1):
        line(cx - leg, cy + a * 62, cx + leg, cy + a * 62, width=5, stroke="#9aa0a6")
        line(cx + a * leg, cy - leg, cx + a * leg, cy + leg, width=5, stroke="#9aa0a6")
    put(f'<circle cx="{cx}" cy="{cy}" r="{POT_D/2*s:.1f}" fill="none" stroke="{INK}" '
        f'stroke-width="2"/>')
    # Shields on all four sides.
    for extra in (22, 22 + SHIELD_GAP):
        d = (STOVE_W / 2 + extra) * s
        rect(cx - d, cy - d, 2 * d, 2 * d, fill="none", stroke="#777", width=1.6)
    # Cells: beams along the side tubes, free ends at the corners.
    for a in (-1, 1):
        for b in (-1, 1):
            x, y = cx + a * half, cy + b * half
            rect(x - 9, min(y, y - b * 70), 18, 70, fill="#cfe6d3", stroke=CELL, width=1.6)
            rect(x - 12, y - 12, 24, 24, fill="none")
            put(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="white" stroke="{INK}" '
                f'stroke-width="1.3"/>')
    top = cy - half_frame - 16
    blue = "#1f5fa8"
    for a in (-1, 1):
        x = cx + a * (half_frame + 9)
        for b in (-1, 1):
            y = cy + b * (half - 62)
            line(cx + a * half, y, x, y, stroke=blue, width=2)
        line(x, cy + half - 62, x, top, stroke=blue, width=2)
    line(cx - half_frame - 9, top, cx + half_frame + 9, top, stroke=blue, width=2)
    rect(cx - 44, top - 32, 88, 28, fill="white")
    text(cx, top - 13, "junction", 12, "middle")
    line(cx, top - 32, cx, top - 54, stroke=blue, width=2)
    text(cx + 8, top - 42, "to the board", 12)
    put(f'<path d="M{cx:.1f} {cy + half_frame + 44:.1f} V{cy + STOVE_W/2*s:.1f}" fill="none" '
        f'stroke="{HEAT}" stroke-width="3"/>')
    text(cx + 10, cy + half_frame + 30, "gas: touches nothing weighed", 12, fill=HEAT)
    across(cx - half_frame, cx + half_frame, cy + half_frame + 66, FRAME_W)
    text(cx, cy + 4, "flame", 12, "middle", fill=HEAT)
    mark(10, cx + half_frame + 9, cy + 60, cx + half_frame + 46, cy + 20)
    mark(11, cx - leg + 22, cy + 20, cx - half_frame - 46, cy - 30)


LEGEND = [
    "1  Pot ring: flat bars 40 × 10 on edge, stainless. Only the ring, legs and pot are weighed.",
    "2  Leg: square tube 40 × 40 × 3, outside the flame's path and the stove.",
    "3  Ball and cup: the load comes down through a point, so that warmth may stretch the ring.",
    "4  Beam cell, 50 kg, along the frame's side: one end fixed to it, the free end under the foot.",
    "5  Heat shield: two sheets 1 mm with 25 mm of air between, open below and above.",
    "6  Hood with drip edge over each cell: spills run off outside it.",
    "7  Overload stop: screw under the free end, 0.3 mm of air at full load.",
    "8  Tipping stop: hook over the foot's collar, 3 mm of air all round; carries nothing in use.",
    "9  Air: ring above the grate, 20 mm. A raised pot burns differently: have the flame checked.",
    "10 Cables: along the frame in metal conduit, far from gas and flame, drip loop before the box.",
    "11 Nothing but air between weighed and standing parts: 20 mm at least, to be wiped clean.",
]

WIDTH, HEIGHT = 1480, 1120
front(400, 700)
above(1120, 400)
text(40, 40, "dekchi platform: four cells around the flame", 20, weight="bold")
text(40, 66, "lengths in mm; green dashes: the load's path; the stove itself is not weighed", 13)
text(400, 92, "front, in section", 14, "middle", weight="bold")
text(1120, 92, "from above", 14, "middle", weight="bold")
for n, words in enumerate(LEGEND):
    text(60, 822 + n * 27, words, 13)
print(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
      f'font-family="DejaVu Sans, sans-serif"><rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>')
print("\n".join(parts))
print("</svg>")
