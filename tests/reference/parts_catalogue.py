"""Random parts catalogues, and the same question asked of DuckDB and of numpy: a cross join with filters."""

import random

import duckdb
import numpy as np

INCH = 0.0254
CC_PER_IN3 = 16.387064
BORE, DECK = 4.03, 9.025

# Limits on deck clearance, squish clearance (inches) and static ratio.
LIMITS = {
    "/geometry/deck_clearance": (0.0, 0.012),
    "/geometry/squish_clearance": (0.036, 0.046),
    "/compression/static_ratio": (9.4, 9.6),
}
# The same for small catalogues, of which little would be left.
WIDE = {
    "/geometry/deck_clearance": (-0.01, 0.06),
    "/geometry/squish_clearance": (0.03, 0.09),
    "/compression/static_ratio": (8.5, 10.8),
}
WANTED_RATIO, RATIO_STEP = 9.5, 0.02


def catalogue(sizes, seed=1, keys=2):
    """Crankshafts, rods, pistons, gaskets and heads, in these numbers; sizes in inches and cubic centimetres."""
    rng = random.Random(seed)
    cranks, rods, pistons, gaskets, heads = sizes

    def number(low, high, digits):
        return round(rng.uniform(low, high), digits)

    def part(index, **fields):
        return {"part_number": f"{index}", **fields}

    return {
        "crankshaft": [part(i, price=number(300, 1500, 2), stroke=number(3.25, 4.0, 3), rod_journal=(2.1, 2.0)[i % keys])
                       for i in range(cranks)],
        "connecting_rod": [part(i, price=number(200, 1200, 2), length=number(5.7, 6.25, 3), pin_diameter=(0.927, 0.912)[i % keys],
                                rod_journal=(2.1, 2.0)[i // 2 % keys]) for i in range(rods)],
        "piston": [part(i, price=number(300, 1100, 2), compression_height=number(1.0, 1.8, 3), dish_volume=number(0, 25, 1),
                        dome_volume=number(0, 6, 1), pin_diameter=(0.927, 0.912)[i % keys]) for i in range(pistons)],
        "head_gasket": [part(i, price=number(20, 200, 2), bore=number(4.06, 4.2, 2), compressed_thickness=number(0.015, 0.08, 3))
                        for i in range(gaskets)],
        "cylinder_head": [part(i, price=number(500, 2500, 2), chamber_volume=number(54, 80, 1)) for i in range(heads)],
    }


def request(parts, preference=("static_ratio", "price"), best=20, limits=None, **more):
    limits = LIMITS if limits is None else limits
    criteria = {
        "static_ratio": {"by": "static_ratio", "wanted_ratio": WANTED_RATIO, "ratio_step": RATIO_STEP},
        "price": {"by": "price"},
    }
    return {
        "units": "inch",
        "base": {"engine": {"cylinders": 8, "layout": "vee"}, "block": {"bore": BORE, "deck_height": DECK}},
        "catalogue": parts,
        "limits": [{"pointer": place, "at_least": low, "at_most": high} for place, (low, high) in limits.items()],
        "preference": [criteria[name] for name in preference],
        "best": best,
        **more,
    }


class Database:
    """The catalogue as tables of DuckDB."""

    def __init__(self, parts):
        self.connection = duckdb.connect()
        self.connection.execute("SET threads TO 2")
        for slot, rows in parts.items():
            names = [name for name in rows[0] if name != "part_number"]
            columns = {name: np.array([row[name] for row in rows], dtype=float) for name in names}
            columns["i"] = np.arange(len(rows), dtype=np.int32)
            self.connection.register(f"given_{slot}", columns)
            self.connection.execute(f"CREATE TABLE {slot} AS SELECT * FROM given_{slot}")

    # One nested level per result, so that a filter may name it; the engine pushes the filters down by itself.
    KEYS = """
        SELECT c.i AS ci, r.i AS ri, p.i AS pi, g.i AS gi, h.i AS hi,
               c.price + r.price + p.price + g.price + h.price AS price, c.stroke,
               {deck} - c.stroke / 2 - r.length - p.compression_height AS clearance, g.compressed_thickness AS thickness,
               h.chamber_volume + p.dish_volume - p.dome_volume
                   + pi() / 4 * g.bore * g.bore * g.compressed_thickness * {cc} AS volume
        FROM crankshaft c, connecting_rod r, piston p, head_gasket g, cylinder_head h
        WHERE c.rod_journal = r.rod_journal AND r.pin_diameter = p.pin_diameter AND r.length > c.stroke"""

    def levels(self, limits, cut):
        """The combinations that are left after each limit, as SQL; `cut` is the most that may be taken off the deck."""
        slack = 1e-7
        (deck_low, deck_high), (squish_low, squish_high), (low, high) = limits.values()
        keys = self.KEYS.format(deck=DECK, cc=CC_PER_IN3)
        clearance = f"""SELECT *, greatest(0, clearance - {deck_high}) AS deck_needs FROM ({keys})
            WHERE clearance >= {deck_low - slack} AND clearance <= {deck_high + cut + slack}"""
        squish = f"""SELECT *, greatest(deck_needs, clearance + thickness - {squish_high}, 0) AS needs FROM ({clearance})
            WHERE clearance + thickness >= {squish_low - slack}
              AND greatest(deck_needs, clearance + thickness - {squish_high}) <= {cut + slack}
              AND clearance - greatest(deck_needs, clearance + thickness - {squish_high}) >= {deck_low - slack}
              AND clearance + thickness - deck_needs >= {squish_low - slack}"""
        area = f"(pi() / 4 * {BORE} * {BORE} * {CC_PER_IN3})"
        # The ratio after a deck cut is 1 + Vs/(volume + area (clearance - cut)): the cut that just reaches the lowest ratio.
        ratio = f"""SELECT *, 1 + {area} * stroke / (volume + {area} * (clearance - cut)) AS ratio FROM (
                SELECT *, greatest(needs, (volume + {area} * clearance - {area} * stroke / ({low} - 1)) / {area}) AS cut
                FROM ({squish}))
            WHERE cut <= {cut + slack} AND clearance - cut >= {deck_low - slack}
              AND clearance + thickness - cut >= {squish_low - slack}
              AND 1 + {area} * stroke / (volume + {area} * (clearance - cut)) <= {high + 1e-7}"""
        return keys, clearance, squish, ratio

    def counts(self, limits=LIMITS, cut=0.0):
        return [self.connection.execute(f"SELECT count(*) FROM ({level})").fetchone()[0] for level in self.levels(limits, cut)]

    def best(self, preference=("static_ratio", "price"), best=20, limits=LIMITS, cut=0.0):
        order = {
            "static_ratio": f"ceil((abs(ratio - {WANTED_RATIO}) - 1e-9) / {RATIO_STEP})",
            "price": "round(price * 10000)",
        }
        columns = ", ".join(order[name] for name in preference)
        rows = self.connection.execute(
            f"SELECT ci, ri, pi, gi, hi, cut, ratio FROM ({self.levels(limits, cut)[3]}) "
            f"ORDER BY {columns}, ci, ri, pi, gi, hi LIMIT {best}").fetchall()
        return [row[:5] for row in rows], [row[5] for row in rows], [row[6] for row in rows]


def by_numpy(parts, preference=("static_ratio", "price"), best=20, limits=LIMITS):
    """Every combination in one array: what is left after keys and each limit, and the best."""
    axes = np.ix_(*[np.arange(len(rows)) for rows in parts.values()])
    slots = dict(zip(parts, axes))

    def field(slot, name):
        return np.array([row[name] for row in parts[slot]])[slots[slot]]

    shape = tuple(len(rows) for rows in parts.values())
    stroke, rod = field("crankshaft", "stroke"), field("connecting_rod", "length")
    keys = (field("crankshaft", "rod_journal") == field("connecting_rod", "rod_journal")) & (rod > stroke)
    keys = keys & (field("connecting_rod", "pin_diameter") == field("piston", "pin_diameter"))
    clearance = DECK - stroke / 2 - rod - field("piston", "compression_height")
    thickness = field("head_gasket", "compressed_thickness")
    gasket = np.pi / 4 * field("head_gasket", "bore") ** 2 * thickness * CC_PER_IN3
    area = np.pi / 4 * BORE**2 * CC_PER_IN3
    volume = field("cylinder_head", "chamber_volume") + gasket + area * clearance
    volume = volume + field("piston", "dish_volume") - field("piston", "dome_volume")
    ratio = (area * stroke + volume) / volume
    left, counts = np.broadcast_to(keys, shape), [int(np.broadcast_to(keys, shape).sum())]
    for value, (low, high) in zip((clearance, clearance + thickness, ratio), limits.values()):
        left = left & (value >= low - 1e-7) & (value <= high + 1e-7)
        counts.append(int(left.sum()))
    places = np.argwhere(left)
    price = sum(field(slot, "price") for slot in parts)
    ranks = {
        "static_ratio": np.ceil((np.abs(ratio[left] - WANTED_RATIO) - 1e-9) / RATIO_STEP),
        "price": np.round(price[left] * 10000),
    }
    order = np.lexsort((*places.T[::-1], *[ranks[name] for name in reversed(preference)]))[:best]
    return counts, [tuple(int(place) for place in row) for row in places[order]]
