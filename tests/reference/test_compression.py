"""Static compression against volumes integrated numerically."""

import math

from scipy.integrate import quad


def slices(profile, low, high):
    """Volume of a body of revolution in cm3, radius and height in mm."""
    return quad(lambda height: math.pi * profile(height) ** 2, low, high)[0] / 1000


def test_items_are_the_integrated_volumes(service):
    request = {
        "units": "metric", "bore": 95, "stroke": 88, "chamber_volume": 61.5, "gasket_bore": 97, "gasket_thickness": 1.3,
        "deck_clearance": -0.4, "dish_volume": 12, "dome_volume": 3, "top_land_height": 7, "top_land_diameter": 94.2}
    answer = service.post("/v1/compression/static", request)
    gasket = slices(lambda _: 48.5, 0, 1.3)
    deck = -slices(lambda _: 47.5, 0, 0.4)
    land = slices(lambda _: 47.5, 0, 7) - slices(lambda _: 47.1, 0, 7)
    swept = slices(lambda _: 47.5, 0, 88)
    clearance = 61.5 + gasket + deck + 12 - 3 + land
    for item, expected in {"gasket": gasket, "deck": deck, "top_land": land, "dish": 12, "dome": 3, "chamber": 61.5}.items():
        assert math.isclose(answer["volumes"][item], expected, rel_tol=1e-10), item
    assert math.isclose(answer["clearance_volume"], clearance, rel_tol=1e-12)
    assert math.isclose(answer["static_ratio"], (swept + clearance) / clearance, rel_tol=1e-12)
